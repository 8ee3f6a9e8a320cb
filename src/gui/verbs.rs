//! The macro behind the window's verbs: enums, words and keys out of one table.
use egui::KeyboardShortcut;

/// What is said of a verb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Words {
    /// What stands on its button; `…` when more input follows.
    pub label: &'static str,
    /// One sentence on what it does.
    pub hint: &'static str,
    /// Its key, where it has one.
    pub key: Option<KeyboardShortcut>,
}

/// One enum for each destination of an action, and `Action` over all of them.
///
/// A row is one of
/// - `Name MODIFIERS Key "label" "hint";` (needs no further words: stands in the help),
/// - `Name(Type) "label" "hint";` (needs further words: no key),
/// - `Name(Type) { (value) MODIFIERS Key "label" "hint"; … };` (each value stands in the help; together
///   they must be all values of the type).
///
/// A variant without words, or without a key where there has to be one, does not compile.
macro_rules! verbs {
    (@first [$($first:tt)*] $rest:tt) => { $($first)* };
    ($(
        #[doc = $doc:literal] $(#[$meta:meta])*
        $group:ident($verb:ident) {$(
            $(#[$about:meta])*
            $name:ident
            $($mods:ident $key:ident $label:literal $hint:literal)?
            $(($($ty:ty),+)
                $($said:literal $more:literal)?
                $({$($value:tt $vmods:ident $vkey:ident $vlabel:literal $vhint:literal;)+})?
            )?
        ;)+}
    )+) => {
        $(
            #[doc = $doc]
            $(#[$meta])*
            pub enum $verb {$(
                $(#[$about])*
                $(#[doc = $hint])?
                $($(#[doc = $more])?)?
                $name $(($($ty),+))?,
            )+}

            impl $verb {
                /// All that need no further words, in the order of the help.
                pub const ALL: &'static [$verb] = &[$(
                    $(verbs!(@first [$verb::$name] $label),)?
                    $($($($verb::$name $value,)+)?)?
                )+];

                /// Its words and its key.
                fn words(&self) -> Words {
                    let on = |mods, key| Some(KeyboardShortcut::new(mods, key));
                    match self {$(
                        $($verb::$name => {
                            Words { label: $label, hint: $hint, key: on($mods, Key::$key) }
                        })?
                        $(
                            $($verb::$name(..) => Words { label: $said, hint: $more, key: None },)?
                            $($($verb::$name $value => {
                                Words { label: $vlabel, hint: $vhint, key: on($vmods, Key::$vkey) }
                            })+)?
                        )?
                    )+}
                }
            }

            impl From<$verb> for Action {
                fn from(verb: $verb) -> Action {
                    Action::$group(verb)
                }
            }
        )+

        /// What a person can have done, by where it is applied. Stations return actions.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Action {$(
            #[doc = $doc]
            $group($verb),
        )+}

        impl Action {
            /// Every action that needs no further words, in the order of the help.
            pub fn all() -> Vec<Action> {
                let mut all = Vec::new();
                $(all.extend($verb::ALL.iter().cloned().map(Action::$group));)+
                all
            }

            /// Its words and its key.
            fn words(&self) -> Words {
                match self {
                    $(Action::$group(verb) => verb.words(),)+
                }
            }
        }
    };
}

pub(super) use verbs;
