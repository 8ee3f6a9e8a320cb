//! The layers together, without a window.
mod architecture; // who may use whom, where words may stand, how long files may be
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
mod serial; // the serial layer on a pseudo-terminal
mod session; // a session in memory, whatever file it came from
mod session_file; // bytes to file to bytes is identity; damage is listed
