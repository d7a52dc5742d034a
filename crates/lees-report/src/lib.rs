//! Renderings of a check: tables, figures, pages. Computes nothing.
