//! The guided run as a pure machine: columns and time in; prompt, share done, refusal, marks out.
