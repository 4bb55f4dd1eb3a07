//! What was meant by a value that is not TOML, where its letters make it plain.

use std::format;
use std::string::String;
use std::vec::Vec;

use crate::robot::date::Date;

/// What is to be written instead of the value in which the parser met a fault at this byte; `None` where that is not plain.
pub(super) fn instead(text: &str, fault: usize) -> Option<String> {
    let start = text.get(..fault)?.rfind('\n').map_or(0, |end| end + 1);
    let line = text.get(start..)?.lines().next()?;
    let before = line.get(..fault - start).unwrap_or(line);
    let equals = before.rfind('=').or_else(|| line.find('='))?;
    let value = line.get(equals + 1..)?.trim_start();
    let token = value.split([' ', '\t', '#', '}', ']']).next()?.trim_end_matches(',');
    day(token)
        .or_else(|| decimals(token))
        .or_else(|| without_unit(value))
        .or_else(|| flag(token))
}

/// `20.11.2026`, `2026/11/20`.
fn day(token: &str) -> Option<String> {
    let parts: Vec<&str> = token.split(['.', '/', '-']).collect();
    let [first, second, third] = parts[..] else { return None };
    let [year, month, day] = if first.len() == 4 {
        [first, second, third]
    } else if token.contains('.') {
        [third, second, first]
    } else {
        return None;
    };
    let date = Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)?;
    Some(format!("write the day as {date}"))
}

/// `1,5`.
fn decimals(token: &str) -> Option<String> {
    let (whole, rest) = token.split_once(',')?;
    let is_number =
        whole.parse::<i64>().is_ok() && !rest.is_empty() && rest.bytes().all(|digit| digit.is_ascii_digit());
    is_number.then(|| format!("write decimals with a point: {whole}.{rest}"))
}

/// `10 deg`, `50Hz`.
fn without_unit(value: &str) -> Option<String> {
    let end = value.find(|c: char| !c.is_ascii_digit() && !"+-.".contains(c))?;
    let (number, behind) = value.split_at_checked(end)?;
    number.parse::<f64>().ok()?;
    let behind = behind.trim_start();
    let is_unit = |c: char| c.is_alphabetic() || c == '°' || c == '%';
    let word_end = behind.find(|c| !is_unit(c)).unwrap_or(behind.len());
    // A key that begins behind it has an equals sign.
    let is_key = behind.get(word_end..)?.trim_start().starts_with(['=', '.', '_']);
    (word_end > 0 && !is_key).then(|| format!("write the number without its unit: {number}"))
}

/// `yes`, `Off`.
fn flag(token: &str) -> Option<String> {
    let meant = match token.to_ascii_lowercase().as_str() {
        "yes" | "on" | "true" => "true",
        "no" | "off" | "false" => "false",
        _ => return None,
    };
    Some(format!("write {meant}"))
}
