//! One language's messages, and values set into them.

use crate::report::words::functions;
use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use fluent_syntax::ast::Pattern;
use serde::Serialize;
use serde_json::Value;
use unic_langid::LanguageIdentifier;

/// A language the program speaks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum, strum::EnumIter)]
pub enum Language {
    /// English.
    #[default]
    #[value(name = "en")]
    English,
    /// German.
    #[value(name = "de")]
    German,
}

impl Language {
    /// Its tag: `en`, `de`.
    #[must_use]
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// The language of a tag.
    #[must_use]
    pub fn of_tag(tag: &str) -> Option<Self> {
        [Self::English, Self::German].into_iter().find(|language| language.tag() == tag)
    }

    pub(super) const fn source(self) -> &'static str {
        match self {
            Self::English => concat!(
                include_str!("en/findings.ftl"),
                "\n",
                include_str!("en/herd.ftl"),
                "\n",
                include_str!("en/lane.ftl"),
                "\n",
                include_str!("en/pages.ftl"),
                "\n",
                include_str!("en/trim.ftl")
            ),
            Self::German => concat!(
                include_str!("de/findings.ftl"),
                "\n",
                include_str!("de/herd.ftl"),
                "\n",
                include_str!("de/lane.ftl"),
                "\n",
                include_str!("de/pages.ftl"),
                "\n",
                include_str!("de/trim.ftl")
            ),
        }
    }
}

/// The words of one language.
pub struct Words {
    language: Language,
    bundle: FluentBundle<FluentResource>,
}

/// Fields that name a leg or a plate: their letters are those of the language.
const LEG_FIELDS: [&str; 4] = ["leg", "other", "treated", "plate"];

impl Words {
    /// Reads the catalogue of a language.
    ///
    /// # Panics
    /// Never, as the tests read every catalogue.
    #[must_use]
    pub fn new(language: Language) -> Self {
        let source = language.source().to_owned();
        let resource = FluentResource::try_new(source).unwrap_or_else(|(_, errors)| {
            panic!("the catalogue `{}` is wrong: {errors:?}", language.tag());
        });
        let mut bundle = FluentBundle::new_concurrent(vec![
            language.tag().parse::<LanguageIdentifier>().unwrap_or_default(),
        ]);
        bundle.set_use_isolating(false);
        bundle.set_formatter(Some(match language {
            Language::English => functions::english_number,
            Language::German => functions::german_number,
        }));
        bundle.add_resource_overriding(resource);
        let mut words = Self { language, bundle };
        let forms = functions::Forms::read(|id| words.text(id));
        functions::add(&mut words.bundle, &forms);
        words
    }

    /// The language.
    #[must_use]
    pub const fn language(&self) -> Language {
        self.language
    }

    /// A message without values.
    #[must_use]
    pub fn text(&self, id: &str) -> String {
        self.format(id, None).unwrap_or_else(|| id.to_owned())
    }

    /// Whether there is such a message.
    #[must_use]
    pub fn has(&self, id: &str) -> bool {
        self.bundle.has_message(id)
    }

    /// A message with the fields of `values` set in. Fields of nested objects are joined by `_`.
    #[must_use]
    pub fn say(&self, id: &str, values: impl Serialize) -> String {
        self.format(id, Some(&self.args(values))).unwrap_or_else(|| id.to_owned())
    }

    /// An attribute of a message, where it has one.
    #[must_use]
    pub fn attribute(&self, id: &str, name: &str, values: impl Serialize) -> Option<String> {
        let pattern = self.bundle.get_message(id)?.get_attribute(name)?.value();
        Some(self.pattern(id, pattern, Some(&self.args(values))))
    }

    fn args(&self, values: impl Serialize) -> FluentArgs<'static> {
        let mut args = FluentArgs::new();
        if let Ok(Value::Object(fields)) = serde_json::to_value(values) {
            self.set(&mut args, "", fields);
        }
        args
    }

    fn set(&self, args: &mut FluentArgs<'_>, before: &str, fields: serde_json::Map<String, Value>) {
        for (name, value) in fields {
            let name = format!("{before}{name}");
            let value: FluentValue<'_> = match value {
                Value::Null => "none".into(),
                Value::Bool(yes) => if yes { "yes" } else { "no" }.into(),
                Value::Number(number) => number.as_f64().into(),
                Value::String(text) => self.term(&name, text).into(),
                Value::Object(nested) => {
                    self.set(args, &format!("{name}_"), nested);
                    continue;
                }
                Value::Array(_) => continue,
            };
            args.set(name, value);
        }
    }

    /// Letters of a leg, names of lesions and fields, and why passages cannot be used are the language's own.
    fn term(&self, field: &str, text: String) -> String {
        let id = match field {
            leg if LEG_FIELDS.contains(&leg) => format!("leg-{text}"),
            "lesion" => format!("lesion-{text}"),
            "commonest" => format!("quality-{text}"),
            "field" => format!("field-{text}"),
            _ => return text,
        };
        if self.has(&id) { self.text(&id) } else { text }
    }

    fn format(&self, id: &str, args: Option<&FluentArgs<'_>>) -> Option<String> {
        Some(self.pattern(id, self.bundle.get_message(id)?.value()?, args))
    }

    fn pattern(&self, id: &str, pattern: &Pattern<&str>, args: Option<&FluentArgs<'_>>) -> String {
        let mut errors = Vec::new();
        let text = self.bundle.format_pattern(pattern, args, &mut errors).into_owned();
        debug_assert!(errors.is_empty(), "{id}: {errors:?}");
        text
    }
}
