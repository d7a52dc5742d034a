//! A decoded data table.

/// The abscissae of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Abscissae {
    /// Evenly spaced, in the unit of the file.
    Even {
        /// Of the first point.
        first: f64,
        /// Of the last point.
        last: f64,
    },
    /// One for each point, as in the file.
    Listed(Vec<f64>),
}

/// A data table with the factors of the file applied.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Symbol of the ordinate: `Y`, `R` for real, `I` for imaginary.
    pub symbol: String,
    /// The page's own label, such as `N=1`, in tables of pages.
    pub page: Option<String>,
    /// The form as written, such as `(X++(Y..Y))`.
    pub form: String,
    /// Where the points lie, disagreements between labels settled.
    pub x: Abscissae,
    /// First and last abscissa as the file's labels state them.
    pub stated: (Option<f64>, Option<f64>),
    /// Ordinates in the unit of the file; a gap in the file is not a number.
    pub y: Vec<f64>,
    /// Line of the file at which the table's header stands.
    pub line: usize,
}

impl Table {
    /// Abscissa of the first point; `None` in an empty table.
    ///
    /// ```
    /// let document = lees_format::read(b"9.0\t1\n8.5\t3\n8.0\t5\n7.5\t4\n7.0\t2\n", "a.txt", &Default::default())?;
    /// assert_eq!(document.blocks[0].real_table().and_then(|table| table.first_x()), Some(9.0));
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn first_x(&self) -> Option<f64> {
        match &self.x {
            Abscissae::Even { first, .. } => (!self.y.is_empty()).then_some(*first),
            Abscissae::Listed(list) => list.first().copied(),
        }
    }

    /// Abscissa of the last point; `None` in an empty table.
    ///
    /// ```
    /// let document = lees_format::read(b"9.0\t1\n8.5\t3\n8.0\t5\n7.5\t4\n7.0\t2\n", "a.txt", &Default::default())?;
    /// assert_eq!(document.blocks[0].real_table().and_then(|table| table.last_x()), Some(7.0));
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn last_x(&self) -> Option<f64> {
        match &self.x {
            Abscissae::Even { last, .. } => (!self.y.is_empty()).then_some(*last),
            Abscissae::Listed(list) => list.last().copied(),
        }
    }
}
