//! As much of QTI's response processing as the exported questions use, to find out what another system would make of an
//! answer. Shares no code with the program.
// From memory, not confirmed: 1EdTech QTI 3.0 information model, the meaning of these rules and expressions.

use roxmltree::{Document, Node};
use std::collections::BTreeMap;

/// A value: nothing, or some, each as text.
pub(super) type Value = Vec<String>;

/// What processing sets when this is answered.
pub(super) fn process(item: &str, response: &[&str]) -> BTreeMap<String, Value> {
    let document = Document::parse(item).expect("an item");
    let root = document.root_element();
    let child = |name: &str| root.children().find(|child| child.tag_name().name() == name).expect("a part of an item");
    let declaration = child("qti-response-declaration");
    let correct = declaration.descendants().filter(|node| node.tag_name().name() == "qti-value");
    let mut processor = Processor {
        cardinality: declaration.attribute("cardinality").expect("a cardinality").to_owned(),
        response: response.iter().map(|text| (*text).to_owned()).collect(),
        correct: correct.filter_map(|node| node.text()).map(str::to_owned).collect(),
        mapping: declaration.children().find(|node| node.tag_name().name() == "qti-mapping").map(Mapping::read),
        outcomes: BTreeMap::new(),
    };
    for outcome in root.children().filter(|node| node.tag_name().name() == "qti-outcome-declaration") {
        let values = outcome.descendants().filter(|node| node.tag_name().name() == "qti-value");
        let values = values.filter_map(|node| node.text()).map(str::to_owned).collect();
        processor.outcomes.insert(outcome.attribute("identifier").expect("a name").to_owned(), values);
    }
    processor.rules(child("qti-response-processing"));
    processor.outcomes
}

struct Processor {
    cardinality: String,
    response: Value,
    correct: Value,
    mapping: Option<Mapping>,
    outcomes: BTreeMap<String, Value>,
}

/// What each value of the response counts.
struct Mapping {
    entries: BTreeMap<String, f64>,
    default: f64,
    bounds: (f64, f64),
}

impl Mapping {
    fn read(node: Node<'_, '_>) -> Self {
        let number = |node: Node<'_, '_>, name: &str| node.attribute(name).map(|text| text.parse().expect("a number"));
        let entries = node.children().filter(Node::is_element).map(|entry| {
            (entry.attribute("map-key").expect("a key").to_owned(), number(entry, "mapped-value").expect("a value"))
        });
        Self {
            entries: entries.collect(),
            default: number(node, "default-value").unwrap_or(0.0),
            bounds: (
                number(node, "lower-bound").unwrap_or(f64::NEG_INFINITY),
                number(node, "upper-bound").unwrap_or(f64::INFINITY),
            ),
        }
    }

    fn of(&self, response: &Value) -> f64 {
        let each = response.iter().map(|value| self.entries.get(value).copied().unwrap_or(self.default));
        each.sum::<f64>().clamp(self.bounds.0, self.bounds.1)
    }
}

impl Processor {
    fn rules(&mut self, parent: Node<'_, '_>) {
        for rule in parent.children().filter(Node::is_element) {
            self.rule(rule);
        }
    }

    fn rule(&mut self, rule: Node<'_, '_>) {
        match rule.tag_name().name() {
            "qti-set-outcome-value" => {
                let value = self.value(rule.first_element_child().expect("an expression"));
                self.outcomes.insert(rule.attribute("identifier").expect("an outcome").to_owned(), value);
            }
            "qti-response-condition" => {
                for branch in rule.children().filter(Node::is_element) {
                    let inside: Vec<Node<'_, '_>> = branch.children().filter(Node::is_element).collect();
                    let (holds, rules) = match branch.tag_name().name() {
                        "qti-response-else" => (true, &inside[..]),
                        _ => (self.value(inside[0]) == ["true"], &inside[1..]),
                    };
                    if holds {
                        rules.iter().for_each(|rule| self.rule(*rule));
                        return;
                    }
                }
            }
            other => panic!("{other} is not a rule that is used"),
        }
    }

    fn value(&self, expression: Node<'_, '_>) -> Value {
        let truth = |holds: bool| vec![holds.to_string()];
        let inside = || expression.children().filter(Node::is_element).map(|node| self.value(node)).collect::<Vec<_>>();
        match expression.tag_name().name() {
            "qti-variable" if expression.attribute("identifier") == Some("RESPONSE") => self.response.clone(),
            "qti-correct" => self.correct.clone(),
            "qti-base-value" => vec![expression.text().expect("a value").to_owned()],
            "qti-multiple" => inside().concat(),
            "qti-is-null" => truth(inside()[0].is_empty()),
            "qti-not" => truth(inside()[0] != ["true"]),
            "qti-match" => {
                let mut both = inside();
                if self.cardinality == "multiple" {
                    both.iter_mut().for_each(|each| each.sort());
                }
                truth(both[0] == both[1])
            }
            "qti-map-response" => vec![self.mapping.as_ref().expect("a mapping").of(&self.response).to_string()],
            "qti-divide" => {
                let both: Vec<f64> = inside().iter().map(|value| value[0].parse().expect("a number")).collect();
                vec![(both[0] / both[1]).to_string()]
            }
            "qti-equal" => {
                assert_eq!(expression.attribute("tolerance-mode"), Some("absolute"));
                let number = |text: &str| text.parse::<f64>().expect("a number");
                let tolerance = number(expression.attribute("tolerance").expect("a tolerance"));
                let both = inside();
                let (first, second) = (number(&both[0][0]), number(&both[1][0]));
                truth(first - tolerance <= second && second <= first + tolerance)
            }
            other => panic!("{other} is not an expression that is used"),
        }
    }
}

#[test]
fn it_can_say_no() {
    let item = "<i><qti-response-declaration cardinality='single'><qti-correct-response><qti-value>a</qti-value>\
                </qti-correct-response></qti-response-declaration><qti-outcome-declaration identifier='S'/>\
                <qti-response-processing><qti-response-condition><qti-response-if><qti-match><qti-variable \
                identifier='RESPONSE'/><qti-correct identifier='RESPONSE'/></qti-match><qti-set-outcome-value \
                identifier='S'><qti-base-value>1</qti-base-value></qti-set-outcome-value></qti-response-if>\
                </qti-response-condition></qti-response-processing></i>";
    assert_eq!(process(item, &["a"])["S"], ["1"]);
    assert!(process(item, &["b"])["S"].is_empty());
}
