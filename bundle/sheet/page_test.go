package sheet

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// webPage is a printed sheet as an outside parser (golang.org/x/net/html, the HTML standard's own algorithm)
// reads it.
type webPage struct {
	elements []*html.Node
	text     string
}

func readPage(t testing.TB, data []byte) webPage {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	var p webPage
	var b strings.Builder
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch n.Type {
		case html.ElementNode:
			p.elements = append(p.elements, n)
			if n.Data == "style" {
				return
			}
		case html.TextNode:
			b.WriteString(n.Data)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
		if n.Type == html.ElementNode {
			b.WriteByte(' ')
		}
	}
	walk(root)
	p.text = squeeze(b.String())
	return p
}

func squeeze(s string) string { return strings.Join(strings.Fields(s), " ") }

func attr(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

// voids are the elements without an end tag (HTML standard, section 13.1.2).
var voids = strings.Fields("area base br col embed hr img input link meta source track wbr")

// malformed is the first place where tags do not match; "" for a well-formed page. A browser mends such places
// silently, so the parser above cannot tell.
func malformed(data []byte) string {
	z := html.NewTokenizer(bytes.NewReader(data))
	var open []string
	for {
		switch z.Next() {
		case html.ErrorToken:
			if z.Err() != io.EOF {
				return z.Err().Error()
			}
			if len(open) > 0 {
				return "not closed: " + strings.Join(open, " ")
			}
			return ""
		case html.StartTagToken:
			name, _ := z.TagName()
			if !slices.Contains(voids, string(name)) {
				open = append(open, string(name))
			}
		case html.EndTagToken:
			name, _ := z.TagName()
			if len(open) == 0 || open[len(open)-1] != string(name) {
				return fmt.Sprintf("</%s> closes %v", name, open)
			}
			open = open[:len(open)-1]
		}
	}
}

// faults lists what a page must not have: see each line.
func faults(p webPage) []string {
	var out []string
	ids := map[string]bool{}
	level := 0
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, n := range p.elements {
		if id, ok := attr(n, "id"); ok {
			if ids[id] || id == "" {
				add("id %q stands twice", id)
			}
			ids[id] = true
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" {
				add("attribute %s on %s", a.Key, n.Data)
			}
		}
		switch n.Data {
		case "script", "iframe", "object", "embed", "link", "base", "form", "foreignobject", "foreignObject", "use", "audio", "video":
			add("element %s", n.Data)
		case "html":
			if l, _ := attr(n, "lang"); l == "" {
				add("no language")
			}
		case "img":
			if src, _ := attr(n, "src"); !strings.HasPrefix(src, "data:image/jpeg;base64,") && !strings.HasPrefix(src, "data:image/png;base64,") {
				add("picture from %.40q", src)
			}
			// In a table the name of the row stands beside the picture and says the same.
			thumb, _ := attr(n, "class")
			if alt, ok := attr(n, "alt"); alt == "" && !(ok && thumb == "thumb") {
				add("picture without alternative text")
			}
		case "th":
			if s, _ := attr(n, "scope"); s != "col" && s != "row" {
				add("th without scope")
			}
		case "h1", "h2", "h3", "h4", "h5", "h6":
			l := int(n.Data[1] - '0')
			if l > level+1 {
				add("heading %s after level %d", n.Data, level)
			}
			level = l
		}
	}
	for _, n := range p.elements {
		if href, ok := attr(n, "href"); ok {
			switch {
			case strings.HasPrefix(href, "#"):
				if !ids[href[1:]] {
					add("anchor %s leads nowhere", href)
				}
			case n.Data == "a" && (strings.HasPrefix(href, "https://") || strings.HasPrefix(href, "http://") || strings.HasPrefix(href, "mailto:")):
			default:
				add("address %q on %s", href, n.Data)
			}
		}
		if by, ok := attr(n, "aria-labelledby"); ok && !ids[by] {
			add("label %s is not there", by)
		}
	}
	return out
}

func printed(t testing.TB, s *Sheet, image Images) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.HTML(&b, image); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestDemoPages holds for every design, variant and language of the demo season: the page is well-formed and
// self-contained, its anchors resolve, its headings do not skip, and every fastener, step and caution stands on
// page and text.
func TestDemoPages(t *testing.T) {
	everyVariant(t, func(t *testing.T, name, variant string) {
		for _, language := range []string{"en", "de"} {
			in, images := demo(t, name, variant, language)
			s := Compose(in)
			data := printed(t, s, images)
			if m := malformed(data); m != "" {
				t.Errorf("%s: %s", language, m)
			}
			page := readPage(t, data)
			for _, f := range faults(page) {
				t.Errorf("%s: %s", language, f)
			}
			if again := printed(t, Compose(in), images); !bytes.Equal(data, again) {
				t.Errorf("%s: two prints differ", language)
			}
			var plain bytes.Buffer
			if err := s.Text(&plain); err != nil {
				t.Fatal(err)
			}
			for _, want := range mustStand(s) {
				if !strings.Contains(page.text, squeeze(want)) {
					t.Errorf("%s: the page lacks %q", language, want)
				}
				if !strings.Contains(squeeze(plain.String()), squeeze(want)) {
					t.Errorf("%s: the text lacks %q", language, want)
				}
			}
		}
	})
}

// mustStand is every fastener, step and caution of a sheet, and its licence's answer.
func mustStand(s *Sheet) []string {
	out := []string{s.Title, s.Revision, tongueOf(s.Language).say("may i sell")}
	for _, c := range s.Counts {
		if c.Section == "fastener" {
			out = append(out, c.Name)
		}
	}
	for _, x := range s.Sections {
		out = append(out, x.Title)
		for _, b := range x.Blocks {
			if b.Kind == Group {
				out = append(out, b.Title)
			}
			for _, c := range b.Cautions {
				out = append(out, c.Word, c.Text)
			}
			for _, y := range b.Blocks {
				for _, c := range y.Cautions {
					out = append(out, c.Word, c.Text)
				}
			}
		}
	}
	return out
}

// TestPageCheckersSee feeds the checkers above what they must reject.
func TestPageCheckersSee(t *testing.T) {
	if malformed([]byte(`<p><b>open</p></b>`)) == "" {
		t.Error("crossed tags pass for well-formed")
	}
	if malformed([]byte(`<div><p>open</p>`)) == "" {
		t.Error("an open tag passes for well-formed")
	}
	const bad = `<html><body><h1>a</h1><h3 id=x>b</h3><img src="https://example.org/x.png"><a href="#gone">c</a><a href="javascript:x">d</a>` +
		`<p onclick="x" id=x>e</p><script>f</script><table><tr><th>g</th></tr></table><link rel=stylesheet href="https://example.org/x.css"></body></html>`
	got := strings.Join(faults(readPage(t, []byte(bad))), "\n")
	for _, want := range []string{"no language", "picture from", "alternative text", "anchor #gone", "javascript:x", "onclick", "script", "scope", "h3 after level 1", "stands twice", "x.css"} {
		if !strings.Contains(got, want) {
			t.Errorf("the checker does not see %q in\n%s", want, got)
		}
	}
}
