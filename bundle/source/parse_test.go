package source

import (
	"bytes"
	"strings"
	"testing"
)

// TestScalarsStayAsTyped: what a YAML reader that guesses turns into something else (goccy/go-yaml 1.19
// decoding into Go strings gives the second column) stays what was typed.
func TestScalarsStayAsTyped(t *testing.T) {
	for in, guessed := range map[string]string{"1.10": "1.1", "012": "10", "no": "false", "yes": "true", "22:30": "22:30", "0x10": "16", "1_000": "1000", ".inf": "+Inf"} {
		n, _, found := Parse("x.yaml", []byte("key: "+in+"\n"))
		if len(found) != 0 || n == nil {
			t.Errorf("%s: %v", in, found)
			continue
		}
		if v := n.Get("key"); v.Kind != Scalar || v.Text != in || v.Quoted {
			t.Errorf("%s became %q (a guessing reader says %s)", in, v.Text, guessed)
		}
	}
	n, _, _ := Parse("x.yaml", []byte("a: |\n  two\n  lines\nb: \"012\"\nc:\nd: ~\n"))
	if v := n.Get("a"); v.Text != "two\nlines\n" || !v.Quoted {
		t.Errorf("a block became %q", v.Text)
	}
	if !n.Get("b").Quoted || n.Get("c").Kind != Null || n.Get("d").Kind != Null {
		t.Errorf("quotes and nothing: %+v", n)
	}
}

func TestPlacesCountBytes(t *testing.T) {
	n, text, _ := Parse("x.yaml", []byte("\ufefftitle: Frühbeet\r\nlist: [ä, ö, deep]\r\n"))
	if p := n.Get("title").At; p.Line != 1 || p.Column != 8 {
		t.Errorf("title at %s", p)
	}
	p := n.Get("list").Items[2].At
	if p.Line != 2 || text.Line(2)[p.Column-1:p.Column+3] != "deep" {
		t.Errorf("deep at %s, the byte there begins %q", p, text.Line(2)[p.Column-1:])
	}
}

// TestHostileTexts: each is refused with a finding that has a place and a hint, none takes long or much.
func TestHostileTexts(t *testing.T) {
	bomb := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c < 'j'; c++ {
		p := string(c - 1)
		bomb += string(c) + ": &" + string(c) + " [*" + strings.Repeat(p+",*", 8) + p + "]\n"
	}
	for name, in := range map[string]string{
		"empty":          "",
		"comments only":  "# nothing\n# more\n",
		"ten megabytes":  "a: " + strings.Repeat("x", 10<<20),
		"aliases":        bomb,
		"deep brackets":  strings.Repeat("[", 20_000) + strings.Repeat("]", 20_000),
		"deep dashes":    strings.Repeat("- ", 20_000) + "x",
		"deep indent":    deepIndent(2000),
		"deep maps":      strings.Repeat("{a: ", 5_000) + "1" + strings.Repeat("}", 5_000),
		"utf-16":         "\xff\xfea\x00:\x00",
		"not utf-8":      "a: \xff\xfe",
		"a zero byte":    "a: b\x00c",
		"merge":          "base: {x: 1}\nb:\n  <<: {x: 1}\n",
		"tag":            "a: !!binary eA==",
		"two documents":  "a: 1\n---\nb: 2\n",
		"complex key":    "? [a, b]\n: 1\n",
		"unclosed quote": "a: \"b\n",
		"unclosed list":  "a: [1, 2\nb: 3\n",
		"tab":            "a:\n\tb: 1\n",
	} {
		_, _, found := Parse("x.yaml", []byte(in))
		if len(found) == 0 {
			t.Errorf("%s: accepted", name)
			continue
		}
		for _, f := range found {
			if f.At.Line < 1 || f.At.Column < 1 || f.Hint == "" || f.Text == "" {
				t.Errorf("%s: a finding without place or hint: %+v", name, f)
			}
		}
	}
}

func deepIndent(n int) string {
	var b bytes.Buffer
	for i := range n {
		b.WriteString(strings.Repeat(" ", i))
		b.WriteString("a:\n")
	}
	return b.String()
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"a: 1\n", "a: [b, {c: d}]\n", "a: |\n  x\n", "- 1\n- 2\n", "a: \"\\u00e4\"\n", "? a\n: b\n", "a: &x 1\nb: *x\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n, text, found := Parse("x.yaml", data)
		if n == nil && len(found) == 0 {
			t.Error("no tree and no finding")
		}
		for _, x := range found {
			_ = text.Line(x.At.Line)
		}
	})
}
