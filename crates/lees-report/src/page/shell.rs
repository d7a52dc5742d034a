//! The page round the articles: policy, style, script.

use base64::Engine as _;
use lees_core::SettingMap;
use lees_core::check::Check;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use super::{overview, tables};
use crate::figure::font;

const STYLE: &str = include_str!("../../assets/page.css");
const SCRIPT: &str = include_str!("../../assets/page.js");
/// Runs before the body is read, so that what the script will hide is never laid out.
const EARLY: &str = "document.documentElement.classList.add(\"scripted\");";

/// The whole page; settings that are the same for all stand once, at its end.
pub(super) fn page(
    title: &str,
    checks: &[&Check],
    articles: &[Markup],
    shared: Option<&SettingMap>,
) -> String {
    let style = font::css() + STYLE;
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&style));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(format!("lees {}", version(checks)));
                title { (title) }
                style { (PreEscaped(&style)) }
                script { (PreEscaped(EARLY)) }
            }
            body {
                a.skip href="#main" { "Skip to the result" }
                main #main class=(if checks.len() > 1 { "many" } else { "one" }) {
                    @if checks.len() > 1 { (overview::overview(title, checks)) }
                    @for article in articles { (levelled(article, checks.len())) }
                    @if let Some(all) = shared {
                        section.common { (tables::settings("Settings of every spectrum", all)) }
                    }
                }
                footer {
                    p {
                        "Made by lees " (version(checks))
                        ". A result of one proton spectrum: not a release decision, and no replacement for local \
                         rules or for a licensed analyst's judgement."
                    }
                }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    markup.into_string()
}

fn version(checks: &[&Check]) -> String {
    checks.first().map(|c| crate::clean(&c.provenance.version)).unwrap_or_default()
}

/// On a page of its own, an article's headings are one level higher. Text is escaped, so only tags match.
fn levelled(article: &Markup, of: usize) -> Markup {
    if of > 1 {
        return article.clone();
    }
    let higher = |text: String, from: u8, to: u8| {
        text.replace(&format!("<h{from}"), &format!("<h{to}"))
            .replace(&format!("</h{from}"), &format!("</h{to}"))
    };
    PreEscaped(higher(higher(article.0.clone(), 2, 1), 3, 2))
}

/// Nothing may load or run but this style and these two scripts.
fn policy(style: &str) -> String {
    format!(
        "default-src 'none'; style-src '{}'; script-src '{}' '{}'; font-src data:; img-src data:; base-uri 'none'; \
         form-action 'none'",
        hash(style),
        hash(EARLY),
        hash(SCRIPT)
    )
}

fn hash(text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    format!("sha256-{}", base64::engine::general_purpose::STANDARD.encode(digest))
}
