//! What is due, in Spanish.

use crate::exports::Language;
use crate::store::{CultureSaid, Day, DueSays, Site};

/// What is to be done.
pub(in crate::web) fn due(says: &DueSays) -> String {
    match says {
        DueSays::AfterContact { days, with, on } => {
            format!("mire otra vez con la lámpara: {days} días después del contacto con {with} el {}", day(*on))
        }
        DueSays::HairLost { place } => format!("mire otra vez ({}): ¿ha perdido pelo?", site(place)),
        DueSays::LiftCrust { place } => format!("levante la costra ({}) y mire otra vez", site(place)),
        DueSays::Doubtful { place, on } => {
            format!("mire otra vez ({}): quedó en duda el {}", site(place), day(*on))
        }
        DueSays::SendHairs { place } => {
            format!("envíe pelos a cultivo ({}): no se ha enviado ninguno desde que se vio", site(place))
        }
        DueSays::ConfirmGrowth { of } => {
            format!("{}: algo creció; confírmelo al microscopio, el medio rojo por sí solo no lo prueba", culture(of))
        }
        DueSays::Answer { of } => format!("{}: anote la respuesta del laboratorio", culture(of)),
        DueSays::Hold { of, next, days } => {
            format!("{}: manténgalo, próxima mirada el {} (día {days})", culture(of), day(*next))
        }
        DueSays::LookAtPlate { of, days, last } => {
            let last = if *last { ", por última vez" } else { "" };
            format!("{}: mire la placa (día {days}){last} y anote lo que haya crecido", culture(of))
        }
        DueSays::NextSlide { place, of } => {
            format!("haga otra preparación ({}): en la del {} había pelos que seguir", site(place), day(*of))
        }
        DueSays::NextPhoto { place, of } => {
            format!("haga otra foto ({}): ninguna del {} se pudo juzgar", site(place), day(*of))
        }
    }
}

/// Where a rule is from: titles of works stay as they are.
pub(in crate::web) fn source(source: &str) -> String {
    if let Some(rest) = source.strip_prefix("set by ")
        && let Some((who, rest)) = rest.split_once(" on ")
        && let Some((when, why)) = rest.split_once(": ")
    {
        return format!("puesto por {who} el {when}: {why}");
    }
    let said = [
        ("common practice, no source", "práctica común, sin fuente"),
        ("(abstract)", "(resumen)"),
        ("(reference work)", "(obra de consulta)"),
        ("open textbook", "libro de texto abierto"),
    ];
    said.iter().fold(source.to_owned(), |text, (english, spanish)| text.replace(english, spanish))
}

fn site(site: &Site) -> String {
    Language::Spanish.terms().site(site.name())
}

fn culture(of: &CultureSaid) -> String {
    format!("{} del {} ({})", of.medium, day(of.sent), of.id)
}

/// A day as it is written in Spanish.
fn day(day: Day) -> String {
    format!("{}/{}/{}", day.day(), day.month(), day.year())
}

#[cfg(test)]
mod tests {
    use super::{due, source};
    use crate::store::DueSays;

    #[test]
    fn places_and_days_are_told_in_spanish() {
        let place = "left pinna".parse().unwrap();
        let on = "2026-11-05".parse().unwrap();
        assert_eq!(
            due(&DueSays::Doubtful { place, on }),
            "mire otra vez (oreja izquierda): quedó en duda el 5/11/2026"
        );
        assert_eq!(source("set by Test on 2026-11-05: house rule"), "puesto por Test el 2026-11-05: house rule");
        assert_eq!(source("common practice, no source"), "práctica común, sin fuente");
    }
}
