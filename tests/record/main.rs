//! Estimators against published figures; each input file names its source.
