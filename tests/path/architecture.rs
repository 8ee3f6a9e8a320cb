//! `who may use whom`, checked on the sources.
