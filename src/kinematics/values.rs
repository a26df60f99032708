//! A signal's values by frame, each there or not.

/// Values by frame. What is not there is kept as not-a-number, in half the memory of a list of options, and never given
/// out.
#[derive(Debug, Clone, Default)]
pub struct Values(Vec<f64>);

impl Values {
    /// Value at a frame, if it is there.
    #[inline]
    pub fn at(&self, frame: usize) -> Option<f64> {
        self.0.get(frame).copied().filter(|value| !value.is_nan())
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is no frame.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The values by frame.
    pub fn iter(&self) -> impl Iterator<Item = Option<f64>> + Clone + '_ {
        (0..self.len()).map(|frame| self.at(frame))
    }

    /// Changes every value there is.
    pub fn change(&mut self, changed: impl Fn(f64) -> f64) {
        for value in self.0.iter_mut().filter(|value| !value.is_nan()) {
            *value = changed(*value);
        }
    }

    /// Goes on with frames in which nothing is there, until there are so many.
    pub fn fill(&mut self, frames: usize) {
        self.0.resize(frames, f64::NAN);
    }

    /// Goes on with more values; no more room is taken than for `most` frames.
    pub fn append(&mut self, values: impl Iterator<Item = Option<f64>>, most: usize) {
        self.0.reserve_exact(most.saturating_sub(self.len()));
        self.0.extend(values.map(|value| value.unwrap_or(f64::NAN)));
    }
}

impl FromIterator<Option<f64>> for Values {
    fn from_iter<I: IntoIterator<Item = Option<f64>>>(values: I) -> Values {
        let known = |value: Option<f64>| value.unwrap_or(f64::NAN);
        Values(values.into_iter().map(known).collect())
    }
}

impl PartialEq for Values {
    fn eq(&self, other: &Values) -> bool {
        self.iter().eq(other.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_there_is_never_given_out() {
        let list = [Some(1.0), None, Some(-3.5), Some(f64::NAN)];
        let mut values: Values = list.into_iter().collect();
        assert_eq!(
            [0, 1, 2, 3, 4].map(|frame| values.at(frame)),
            [Some(1.0), None, Some(-3.5), None, None]
        );
        values.change(|value| 2.0 * value);
        values.append([Some(5.0)].into_iter(), 6);
        values.fill(6);
        let all: Vec<_> = values.iter().collect();
        assert_eq!(all, [Some(2.0), None, Some(-7.0), None, Some(5.0), None]);
        assert_eq!(values, all.into_iter().collect());
        assert_ne!(values, Values::default());
    }
}
