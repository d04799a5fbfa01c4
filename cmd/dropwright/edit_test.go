package main

import (
	"strings"
	"testing"

	"dropwright/bundle/finding"
)

// Each case edits one value of a text and nothing else, whatever its line ends, quotes and comments.
func TestEdit(t *testing.T) {
	for _, c := range []struct {
		name, before, after string
		do                  func(*edit)
	}{
		{"a plain value", "a: 1 # one\nb: two\n", "a: 1 # one\nb: three\n", func(e *edit) { e.swap(e.root.Get("b").At, "two", "three") }},
		{"a quoted value keeps its quotes", "b: \"two\"\n", "b: \"three\"\n", func(e *edit) { e.swap(e.root.Get("b").At, "two", "three") }},
		{"CRLF stays", "a: 1\r\nb: {c: d}\r\n", "a: 1\r\nb: {x: y, c: d}\r\n", func(e *edit) { e.addKey(e.root.Get("b"), "x", "y") }},
		{"a byte order mark stays", "\ufeffb: two\n", "\ufeffb: three\n", func(e *edit) { e.swap(e.root.Get("b").At, "two", "three") }},
		{"umlauts before the value", "ä: {ö: ü, b: two}\n", "ä: {ö: ü, b: three}\n", func(e *edit) { e.swap(e.root.Get("ä").Get("b").At, "two", "three") }},
		{"a key into a block", "a:\n  # first\n  b: 1\n", "a:\n  # first\n  x: y\n  b: 1\n", func(e *edit) { e.addKey(e.root.Get("a"), "x", "y") }},
		{"a key into an empty map", "a: {}\n", "a: {x: y}\n", func(e *edit) { e.addKey(e.root.Get("a"), "x", "y") }},
		{"a key behind another", "a:\n  b: 1 # one\n  c: 2\n", "a:\n  b: 1 # one\n  x: y\n  c: 2\n", func(e *edit) { e.addKeyAfter(e.root.Get("a"), "b", "x", "y") }},
		{"an item into a block list", "a:\n- b: 1\n", "a:\n- {x: y}\n- b: 1\n", func(e *edit) { e.addItem(e.root.Get("a"), "{x: y}") }},
		{"an item into a list with wide dashes", "a:\n  -   {b: 1}\n", "a:\n  - {x: y}\n  -   {b: 1}\n", func(e *edit) { e.addItem(e.root.Get("a"), "{x: y}") }},
		{"an item into brackets", "a: [1]\n", "a: [0, 1]\n", func(e *edit) { e.addItem(e.root.Get("a"), "0") }},
		{"two values in one line", "a: {b: 1, c: 2}\n", "a: {b: 2, c: 1}\n", func(e *edit) {
			e.swap(e.root.Get("a").Get("c").At, "2", "1")
			e.swap(e.root.Get("a").Get("b").At, "1", "2")
		}},
	} {
		e, err := editing("x.yaml", []byte(c.before))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		c.do(e)
		got, err := e.after()
		if err != nil || string(got) != c.after {
			t.Errorf("%s: %v\ngot  %q\nwant %q", c.name, err, got, c.after)
		}
	}
}

// What cannot be edited surely is refused.
func TestEditRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		do   func(*edit)
	}{
		"another text there":   {"a: \"t\\u0077o\"\n", func(e *edit) { e.swap(e.root.Get("a").At, "two", "three") }},
		"a dash of its own":    {"a:\n  -\n    b: 1\n", func(e *edit) { e.addItem(e.root.Get("a"), "{x: y}") }},
		"a place past the end": {"a: 1\n", func(e *edit) { e.swap(finding.Place{Line: 9, Column: 1}, "1", "2") }},
	} {
		e, err := editing("x.yaml", []byte(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		c.do(e)
		if got, err := e.after(); err == nil {
			t.Errorf("%s: edited to %q", name, got)
		}
	}
}

// quoteYAML's texts are read back as they were.
func TestQuoteYAML(t *testing.T) {
	for _, text := range []string{"plain words", "a: b", "a #b", "yes", "1.10", "it's", `"quoted"`, "comma, brace}", "- dash", "trailing:", "ümlaut", "back\\slash", "tab\there", "[list]", "*x", "&x", "!x", "%x", "@x", "null", "<b>"} {
		e, err := editing("x.yaml", []byte("a: {b: "+quoteYAML(text)+", c: 1}\n"))
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if got := e.root.Get("a").Get("b"); got == nil || got.Text != text {
			t.Errorf("%q is read back as %+v", text, got)
		}
	}
	if strings.Contains(quoteYAML("plain words"), `"`) {
		t.Error("a plain text is quoted")
	}
}
