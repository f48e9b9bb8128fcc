"""Puts many mutants into sources at once, each behind a switch, so that they are built only once.

A mutant is a change of one operator, guard, arm or function, as `cargo mutants --list --json` tells it. It becomes
`(if crate::mutant(7) { a - b } else { a + b })`; which one is on, the environment says when the program begins.
"""
import tree_sitter
import tree_sitter_rust

PARSER = tree_sitter.Parser(tree_sitter.Language(tree_sitter_rust.language()))
# What is worked out while building, where no switch can be asked.
CONSTANT = {"const_item", "static_item", "array_type", "enum_variant", "const_block", "attribute_item"}
SWITCH = """
/// Whether this mutant is on; notes, where asked, that it was come upon.
#[doc(hidden)]
pub fn mutant(number: usize) -> bool {
    use std::{collections::HashSet, fs::File, io::Write, sync::{LazyLock, Mutex}};
    static ON: LazyLock<usize> =
        LazyLock::new(|| std::env::var("MUTANT").ok().and_then(|on| on.parse().ok()).unwrap_or(usize::MAX));
    static MET: LazyLock<Option<Mutex<(File, HashSet<usize>)>>> = LazyLock::new(|| {
        let path = std::env::var_os("MUTANTS_MET")?;
        let file = File::options().create(true).append(true).open(path).expect("a file to note in");
        Some(Mutex::new((file, HashSet::new())))
    });
    if let Some(met) = &*MET {
        let (file, known) = &mut *met.lock().expect("nobody fails here");
        if known.insert(number) {
            file.write_all(format!("{number}\\n").as_bytes()).expect("room");
        }
    }
    *ON == number
}
"""


class Source:
    """A file, and what is to be put into it."""

    def __init__(self, text: str):
        self.bytes = text.encode()
        self.lines = [0]
        for line in self.bytes.splitlines(keepends=True):
            self.lines.append(self.lines[-1] + len(line))
        self.root = PARSER.parse(self.bytes).root_node
        self.pieces = []  # (sort key, text, mutant)

    def at(self, place):
        """Byte of a line and column, both from 1."""
        first = self.lines[place["line"] - 1]
        line = self.bytes[first : self.lines[place["line"]]].decode()
        return first + len(line[: place["column"] - 1].encode())

    def above(self, byte, *kinds):
        """The smallest node of these kinds that holds a byte."""
        node = self.root.descendant_for_byte_range(byte, byte + 1)
        while node is not None and node.type not in kinds:
            node = node.parent
        return node

    def text(self, node):
        return self.bytes[node.start_byte : node.end_byte].decode()

    def constant(self, node):
        while node is not None:
            if node.type in CONSTANT:
                return True
            if node.type == "function_item":
                return any(c.type == "function_modifiers" and b"const" in c.text for c in node.children)
            node = node.parent
        return False

    def wrap(self, start, end, number, before, after):
        """Outer ones open first and close last."""
        self.pieces.append(((start, 1, -end, number), before, number))
        self.pieces.append(((end, 0, -start, -number), after, number))

    def choose(self, node, number, changed):
        self.wrap(node.start_byte, node.end_byte, number, f"(if crate::mutant({number}) {{ {changed} }} else {{ ", " })")

    def add(self, number, mutant):
        """Whether the mutant has a place here."""
        byte = self.at(mutant["span"]["start"])
        replacement = mutant["replacement"]
        match mutant["genre"]:
            case "FnValue":
                node = self.above(byte, "function_item")
                body = node and node.child_by_field_name("body")
                if body is None or self.constant(body):
                    return False
                start = body.start_byte + 1
                text = f" if crate::mutant({number}) {{ return {replacement}; }} "
                self.pieces.append(((start, 1, -len(self.bytes) - 1, number), text, number))
            case "BinaryOperator":
                node = self.above(byte, "binary_expression", "compound_assignment_expr")
                sign = node and node.child_by_field_name("operator")
                if sign is None or sign.start_byte != byte or self.constant(node):
                    return False
                left, right = (self.text(node.child_by_field_name(side)) for side in ("left", "right"))
                self.choose(node, number, f"{left} {replacement} {right}")
            case "UnaryOperator":
                node = self.above(byte, "unary_expression")
                if node is None or node.start_byte != byte or self.constant(node):
                    return False
                self.choose(node, number, self.text(node.children[-1]))
            case "MatchArm":
                arm = self.above(byte, "match_arm")
                pattern = arm and arm.child_by_field_name("pattern")
                if pattern is None or self.constant(arm):
                    return False
                guard = pattern.child_by_field_name("condition")
                if guard is None:
                    self.pieces.append(((pattern.end_byte, 0, -pattern.start_byte, -number), f" if !crate::mutant({number})", number))
                else:
                    self.wrap(guard.start_byte, guard.end_byte, number, f"!crate::mutant({number}) && (", ")")
            case "MatchArmGuard":
                pattern = self.above(byte, "match_pattern")
                guard = pattern and pattern.child_by_field_name("condition")
                if guard is None or guard.start_byte != byte or self.constant(guard):
                    return False
                on = f"crate::mutant({number}) ||" if replacement == "true" else f"!crate::mutant({number}) &&"
                self.wrap(guard.start_byte, guard.end_byte, number, f"{on} (", ")")
            case _:
                return False
        return True

    def write(self, left_out):
        """The text without some mutants, and where in it each of the others lies."""
        out, last, length = [], 0, 0
        begun, spans = {}, {}
        for (place, *_), text, number in sorted(self.pieces, key=lambda piece: piece[0]):
            if number in left_out:
                continue
            out += [self.bytes[last:place], text.encode()]
            length += place - last
            begun.setdefault(number, length)
            length += len(text.encode())
            spans[number] = (begun[number], length)
            last = place
        out.append(self.bytes[last:])
        return b"".join(out), spans


def nearest(spans, start, end):
    """The mutant that lies closest about these bytes, or else next to them."""
    def apart(span):
        return max(span[0] - start, end - span[1], 0), span[1] - span[0]
    return min(spans, key=lambda number: apart(spans[number]), default=None)
