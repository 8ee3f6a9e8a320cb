//! The layers together, without a window.
mod architecture; // who may use whom, where words may stand, how long files may be
mod constants; // every constant that finds or judges, with the fact that it rests on
mod catalogue; // every figure in every output, on sessions of every kind
mod bad_input; // one clear line, exit 2, nothing half-written
mod dialect_verb; // the form of lines printed and tried, standard input, the account of lines
mod manners; // prefix, help, quiet, narrow terminals, of the program itself
mod outputs; // recordings and inputs stay, disks that fail are told
mod half_named; // headings known in part, other orders, codes that no converter gives
mod damage; // whatever is hit in a recording: only that is lost, and it is said
mod told; // damage and identity in every output, exit codes, played recordings
mod fitted; // readings that constants were fitted to are known wherever they stand
mod board; // the virtual board against its own truth
mod packed; // packed frames under cuts and damage, recognised, with commands
mod framing; // any cut of the stream gives the same frames
mod known_truth; // solved figures against the truth of drawn boards
mod named_faults; // planted faults are named, healthy boards left in peace, outputs whole
mod roll_call; // streams that nobody described, named by what answered
mod evidence; // figures behind the findings against the scenario's truth
mod plain_log; // a log without prompts: what is named, and what is asked for
mod free_hand; // pushes half a second apart, without prompts
mod replay; // a recording played as a link, at any pace
mod scenarios; // planted faults show with the sizes that were planted
mod proof; // fresh runs of a flashed board against the record
mod segments;
mod styles; // every way of printing a stream that is read unasked // rests, releases, rolls, pulls and presses in plain logs
mod tracing; // the tracer of system calls, where it may be used
mod crash; // killed at any moment: all but a second is in the file
mod power; // writes and syncs of a recording, replayed without what was not synced
mod failing_calls; // calls that fail one at a time, a disk that fills, no sockets
mod hostile; // a table of hostile names, files, rigs, targets, streams and signals
mod join; // several recordings of one board measured together
mod keep; // the last minutes of a recording, and what a crash leaves
mod window_link; // the desk on a port: busy, handed over, taken back
mod device_tree; // an invented machine: unplugged, plugged in elsewhere, boot loaders, like boards
mod rates; // one run at many rates: figures agree, nothing is good at one and missed at another
mod second_form; // lines of two forms in one stream, by every way in
mod rare_styles; // states in words, clocks that turn, frames over lines
mod strange_styles; // lists of names, widths, remarks behind frames, other units, pairs of names
mod serial; // the serial layer on a pseudo-terminal
mod session; // a session in memory, whatever file it came from
mod session_file; // bytes to file to bytes is identity; damage is listed
