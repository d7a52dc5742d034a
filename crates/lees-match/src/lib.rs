//! Which volatiles, how much, and the verdict. Opens no file.
