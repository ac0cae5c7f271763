//! Several used parts on the bench, worst first.

use crate::measure::ports::{Examination, Port, PortError, Thresholds, examine};

/// A port with what was found about it.
pub type Bench<'p> = Vec<(&'p Port, Examination)>;

/// Examines several ports and sorts them worst first: by grade, then by the sound land that the
/// easiest way must cross, then by the deepest pit, then by name.
///
/// # Errors
/// Everything that is wrong with any of them, with the port's name.
pub fn bench<'p>(
    ports: &'p [Port],
    thresholds: &Thresholds,
) -> Result<Bench<'p>, Vec<(&'p str, PortError)>> {
    let (mut examined, mut wrong) = (Vec::new(), Vec::new());
    for port in ports {
        match examine(port, thresholds) {
            Ok(found) => examined.push((port, found)),
            Err(errors) => {
                wrong.extend(errors.into_iter().map(|error| (port.name.as_str(), error)));
            }
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    examined.sort_by(|(a_port, a), (b_port, b)| {
        b.grade
            .cmp(&a.grade)
            .then(
                a.clamp()
                    .crossing
                    .sound_mm
                    .total_cmp(&b.clamp().crossing.sound_mm),
            )
            .then(b.deepest_mm.total_cmp(&a.deepest_mm))
            .then(a_port.name.cmp(&b_port.name))
    });
    Ok(examined)
}
