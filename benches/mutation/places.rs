//! The places of a source file that may be changed, and the file with a choice at each.

use std::ops::Range;
use std::path::PathBuf;
use syn::spanned::Spanned as _;
use syn::visit::{self, Visit};
use syn::{BinOp, Expr, Stmt, UnOp};

/// What stands at a place, and what stands there instead.
#[derive(Clone, Debug)]
enum Change {
    /// The operator between two sides becomes another.
    Operator {
        sides: [Range<usize>; 2],
        from: String,
        to: &'static str,
    },
    /// A sign before an expression goes.
    Sign { of: Range<usize>, sign: char },
    /// A method becomes its opposite.
    Method {
        name: Range<usize>,
        from: String,
        to: &'static str,
    },
    /// A truth value becomes the other.
    Truth { from: bool },
    /// A statement is left out.
    Statement,
}

#[derive(Clone, Debug)]
pub(crate) struct Place {
    pub(crate) file: PathBuf,
    line: usize,
    range: Range<usize>,
    change: Change,
}

impl Place {
    /// What is changed and where, in words.
    pub(crate) fn said(&self, text: &str) -> String {
        let what = match &self.change {
            Change::Operator { from, to, .. } => format!("`{from}` becomes `{to}`"),
            Change::Sign { sign, .. } => format!("`{sign}` goes"),
            Change::Method { from, to, .. } => format!("`{from}` becomes `{to}`"),
            Change::Truth { from } => format!("`{from}` becomes `{}`", !from),
            Change::Statement => "left out".to_owned(),
        };
        let code: Vec<&str> = text[self.range.clone()].split_whitespace().collect();
        format!("{}:{}: {what} in {}", self.file.display(), self.line, code.join(" "))
    }
}

/// Finds what may be changed in one file.
struct Finder {
    file: PathBuf,
    found: Vec<Place>,
}

/// All places of a file's text that may be changed.
pub(crate) fn places_of(file: PathBuf, text: &str) -> Vec<Place> {
    let mut finder = Finder {
        file,
        found: Vec::new(),
    };
    finder.visit_file(&syn::parse_file(text).unwrap());
    finder.found
}

impl Finder {
    fn add(&mut self, span: proc_macro2::Span, change: Change) {
        self.found.push(Place {
            file: self.file.clone(),
            line: span.start().line,
            range: span.byte_range(),
            change,
        });
    }
}

fn is_of_tests(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg")
            && attribute
                .meta
                .require_list()
                .is_ok_and(|list| list.tokens.to_string() == "test")
    })
}

/// Whether a condition binds names: its `&&` cannot be moved.
fn binds(expression: &Expr) -> bool {
    match expression {
        Expr::Let(_) => true,
        Expr::Binary(both) => binds(&both.left) || binds(&both.right),
        _ => false,
    }
}

fn opposite(operator: &BinOp) -> Option<&'static str> {
    Some(match operator {
        BinOp::Add(_) => "-",
        BinOp::Sub(_) => "+",
        BinOp::Mul(_) => "/",
        BinOp::Div(_) => "*",
        BinOp::Rem(_) => "+",
        BinOp::And(_) => "||",
        BinOp::Or(_) => "&&",
        BinOp::BitAnd(_) => "|",
        BinOp::BitOr(_) => "&",
        BinOp::Shl(_) => ">>",
        BinOp::Shr(_) => "<<",
        BinOp::Eq(_) => "!=",
        BinOp::Ne(_) => "==",
        BinOp::Lt(_) => "<=",
        BinOp::Le(_) => "<",
        BinOp::Gt(_) => ">=",
        BinOp::Ge(_) => ">",
        BinOp::AddAssign(_) => "-=",
        BinOp::SubAssign(_) => "+=",
        BinOp::MulAssign(_) => "/=",
        BinOp::DivAssign(_) => "*=",
        _ => return None,
    })
}

impl<'a> Visit<'a> for Finder {
    fn visit_item_mod(&mut self, node: &'a syn::ItemMod) {
        if !is_of_tests(&node.attrs) {
            visit::visit_item_mod(self, node);
        }
    }
    fn visit_item_fn(&mut self, node: &'a syn::ItemFn) {
        if node.sig.constness.is_none() && !is_of_tests(&node.attrs) {
            visit::visit_block(self, &node.block);
        }
    }
    fn visit_impl_item_fn(&mut self, node: &'a syn::ImplItemFn) {
        if node.sig.constness.is_none() && !is_of_tests(&node.attrs) {
            visit::visit_block(self, &node.block);
        }
    }
    fn visit_trait_item_fn(&mut self, node: &'a syn::TraitItemFn) {
        if let Some(block) = &node.default {
            visit::visit_block(self, block);
        }
    }
    // Worked out when the program is built.
    fn visit_item_const(&mut self, _: &'a syn::ItemConst) {}
    fn visit_item_static(&mut self, _: &'a syn::ItemStatic) {}
    fn visit_impl_item_const(&mut self, _: &'a syn::ImplItemConst) {}
    fn visit_trait_item_const(&mut self, _: &'a syn::TraitItemConst) {}
    fn visit_expr_const(&mut self, _: &'a syn::ExprConst) {}
    fn visit_variant(&mut self, _: &'a syn::Variant) {}
    fn visit_type(&mut self, _: &'a syn::Type) {}
    fn visit_generics(&mut self, _: &'a syn::Generics) {}
    fn visit_generic_argument(&mut self, _: &'a syn::GenericArgument) {}
    fn visit_attribute(&mut self, _: &'a syn::Attribute) {}
    fn visit_pat(&mut self, _: &'a syn::Pat) {}
    fn visit_expr_repeat(&mut self, node: &'a syn::ExprRepeat) {
        self.visit_expr(&node.expr);
    }

    fn visit_expr_binary(&mut self, node: &'a syn::ExprBinary) {
        if !binds(&node.left)
            && !binds(&node.right)
            && let Some(to) = opposite(&node.op)
        {
            let sides = [node.left.span().byte_range(), node.right.span().byte_range()];
            let from = node.op.span().source_text().unwrap();
            self.add(node.span(), Change::Operator { sides, from, to });
        }
        visit::visit_expr_binary(self, node);
    }
    fn visit_expr_unary(&mut self, node: &'a syn::ExprUnary) {
        let sign = match node.op {
            UnOp::Not(_) => Some('!'),
            UnOp::Neg(_) => Some('-'),
            _ => None,
        };
        if let Some(sign) = sign {
            self.add(
                node.span(),
                Change::Sign {
                    of: node.expr.span().byte_range(),
                    sign,
                },
            );
        }
        visit::visit_expr_unary(self, node);
    }
    fn visit_expr_method_call(&mut self, node: &'a syn::ExprMethodCall) {
        let from = node.method.to_string();
        let to = match from.as_str() {
            "min" if !node.args.is_empty() => Some("max"),
            "max" if !node.args.is_empty() => Some("min"),
            "any" => Some("all"),
            "all" => Some("any"),
            "floor" => Some("ceil"),
            "ceil" => Some("floor"),
            _ => None,
        };
        if let Some(to) = to {
            self.add(
                node.span(),
                Change::Method {
                    name: node.method.span().byte_range(),
                    from,
                    to,
                },
            );
        }
        visit::visit_expr_method_call(self, node);
    }
    fn visit_expr_lit(&mut self, node: &'a syn::ExprLit) {
        if let syn::Lit::Bool(truth) = &node.lit {
            self.add(node.span(), Change::Truth { from: truth.value });
        }
    }
    fn visit_stmt(&mut self, node: &'a Stmt) {
        if let Stmt::Expr(expression, Some(_)) = node {
            // A name without a value yet must get one.
            let stands_alone = match expression {
                Expr::MethodCall(_) | Expr::Call(_) | Expr::Try(_) => true,
                Expr::Assign(assign) => !matches!(*assign.left, Expr::Path(_) | Expr::Infer(_)),
                _ => false,
            };
            if stands_alone {
                self.add(node.span(), Change::Statement);
            }
        }
        visit::visit_stmt(self, node);
    }
}

/// The text of a range with the chosen places in it made choices.
pub(crate) fn with_choices(text: &str, range: Range<usize>, places: &[(usize, &Place)]) -> String {
    let (mut out, mut at) = (String::new(), range.start);
    let mut inside: Vec<&(usize, &Place)> = places
        .iter()
        .filter(|(_, place)| range.start <= place.range.start && place.range.end <= range.end)
        .collect();
    // The outermost first.
    inside.sort_by_key(|(_, place)| (place.range.start, std::cmp::Reverse(place.range.end)));
    for (number, place) in inside {
        if place.range.start < at {
            continue;
        }
        let rest: Vec<(usize, &Place)> = places.iter().filter(|(other, _)| other != number).copied().collect();
        let part = |range: Range<usize>| with_choices(text, range, &rest);
        let whole = part(place.range.clone());
        let if_chosen = format!("if crate::mutant_({number})");
        out += &text[at..place.range.start];
        out += &match &place.change {
            Change::Operator {
                sides: [left, right],
                to,
                ..
            } => {
                format!(
                    "({if_chosen} {{ {} {to} {} }} else {{ {whole} }})",
                    part(left.clone()),
                    part(right.clone())
                )
            }
            Change::Sign { of, .. } => format!("({if_chosen} {{ {} }} else {{ {whole} }})", part(of.clone())),
            Change::Method { name, to, .. } => {
                let (head, tail) = (part(place.range.start..name.start), part(name.end..place.range.end));
                format!("({if_chosen} {{ {head}{to}{tail} }} else {{ {whole} }})")
            }
            Change::Truth { from } => format!("({if_chosen} {{ {} }} else {{ {from} }})", !from),
            Change::Statement => format!("if !crate::mutant_({number}) {{ {whole} }}"),
        };
        at = place.range.end;
    }
    out + &text[at..range.end]
}
