//! The integers the firmware uses: solve, apply (the firmware's arithmetic, bit for bit), check.
