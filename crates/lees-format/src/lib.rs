//! Bytes to values and back: the file formats. Knows no chemistry.
