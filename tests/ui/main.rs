//! The window without a display: pictures drawn on the CPU, stations driven by their names.
mod cpu_renderer; // egui's triangles without a graphics driver
mod gallery; // every part on invented data, light and dark
mod window; // the whole window, driven by names and keys
mod link; // the Link station on a port; long files on their way in; the virtual board by hand
mod wiring; // the response matrix, findings set aside, names taken
mod recording; // the session file that the window writes while a link is live
mod proof; // a fresh session against the record of its constants
mod practice; // a hidden fault, named, and what it was
mod stations; // every station on every kind of document; names, buttons, focus
mod charts; // small pictures: hovering, zoom, reset
mod clockless; // a log that nothing tells the time of: rows in place of seconds, everywhere
mod traces; // forms, lanes, ranges and cursors of the traces
mod trim; // another dead zone, smoothing, what changed, where constants came from
mod session; // jumps, marks, last lines of a file, replays under load, undo of accepted steps
mod guided; // the guided run by its keys on a live board; the welcome
mod parts; // rests and circles of the sticks, buttons one by one, bands by hand
