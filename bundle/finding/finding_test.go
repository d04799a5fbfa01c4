package finding

import (
	"regexp"
	"testing"
)

func TestEveryCodeExplainsItself(t *testing.T) {
	shape := regexp.MustCompile(`^[a-z]+(-[a-z0-9]+)+$`)
	if len(Codes()) < 20 {
		t.Fatalf("only %d codes in the table", len(Codes()))
	}
	for _, c := range Codes() {
		if !shape.MatchString(c.Name) {
			t.Errorf("%q is not kebab-case of at least two words", c.Name)
		}
		if len(c.Why) < 40 {
			t.Errorf("%s: the explanation is too short to help: %q", c.Name, c.Why)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"parts", "photos", "fasteners", "colours", "changes"}
	for in, want := range map[string]string{"part": "parts", "colors": "colours", "fastners": "fasteners", "chnages": "changes", "zebra": "", "": ""} {
		if got := Nearest(in, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestSortIsTotal(t *testing.T) {
	a := Finding{Code: "b-x", At: Place{File: "f", Line: 2, Column: 1}}
	b := Finding{Code: "a-x", At: Place{File: "f", Line: 2, Column: 1}}
	c := Finding{Code: "z-x", At: Place{File: "e", Line: 9, Column: 9}, Level: Warning}
	for _, in := range [][]Finding{{a, b, c}, {c, b, a}, {b, c, a}} {
		Sort(in)
		if in[0].Code != "z-x" || in[1].Code != "a-x" || in[2].Code != "b-x" {
			t.Errorf("order depends on the input: %v", in)
		}
	}
	if w := Worst([]Finding{c, a}); w[0].Code != "b-x" {
		t.Errorf("Worst puts %s first", w[0].Code)
	}
}
