//! That a sheet comes out, whatever stands on it, and always with the same bytes. What readers make of it: `tests/exchange`.

use super::*;

fn sheet<'a>(holder: &'a str, competences: &'a [String], machines: &'a [String]) -> Sheet<'a> {
    Sheet {
        number: "2026-00042-V",
        organisation: "Fennmark Plant Services",
        holder,
        scheme: "First day on site",
        scheme_version: 3,
        competences,
        machines,
        examined: "23 Nov 2026",
        valid_from: "24 Nov 2026",
        valid_until: "24 Nov 2029",
        decided_by: "Service manager",
        decided_at: Moment(1_795_507_200_000_000),
        check_address: "https://training.example.org/check/0123456789abcdefghjkmnpqrstvwxyz01",
        issuer: "https://training.example.org/issuer",
        signed_file: "{}",
    }
}

fn check(holder: &str, competences: usize, machines: usize) {
    let competences: Vec<String> = (0..competences).map(|n| format!("Competence number {n}")).collect();
    let machines: Vec<String> = (0..machines).map(|n| format!("Machine {n}, profile version 1")).collect();
    let sheet = sheet(holder, &competences, &machines);
    let drawn = pdf(&sheet).expect(holder);
    assert!(drawn.starts_with(b"%PDF-1.7"), "{holder}");
    assert_eq!(drawn, pdf(&sheet).expect(holder), "{holder}: the same bytes again");
}

#[test]
fn any_name_and_any_scope_fit_on_the_sheet() {
    check("Ines Varga", 4, 3);
    check("Ines Varga", 0, 0);
    check("Ines Varga", 200, 200);
    for name in ["Şule Öztürk", "Łukasz Żółć", "Νίκος Παππάς", "Оксана Гнатюк", "דנה לוי", "نور", "Nguyễn Thị Hương"]
    {
        check(name, 4, 3);
    }
    // Letters that no font of the program has, a mark without its letter, and joiners.
    for name in ["山田太郎", "\u{301}e\u{301}", "a\u{200d}b", "\u{1f600}"] {
        check(name, 1, 1);
    }
    check(&"W".repeat(100), 4, 3);
    check(&"Maria ".repeat(16), 4, 3);
}

#[test]
fn an_address_that_no_code_can_hold_is_an_error() {
    let long = format!("https://training.example.org/{}", "a".repeat(3000));
    let sheet = Sheet { check_address: &long, ..sheet("Ines Varga", &[], &[]) };
    assert!(pdf(&sheet).is_err());
}
