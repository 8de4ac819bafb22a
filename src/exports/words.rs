//! Small things that are said the same way in every export.

/// Numbers in growing order as people write them: `1-3, 7`.
pub fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let run = |(first, last): (usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}-{last}"),
    };
    runs.into_iter().map(run).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::ranges;

    #[test]
    fn runs_of_numbers_are_drawn_together() {
        assert_eq!(ranges(&[1, 2, 3, 7, 9, 10]), "1-3, 7, 9, 10");
        assert_eq!(ranges(&[4]), "4");
        assert_eq!(ranges(&[]), "");
    }
}
