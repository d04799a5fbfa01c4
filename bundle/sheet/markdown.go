package sheet

import (
	"bytes"
	"net/url"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	extast "github.com/yuin/goldmark/extension/ast"
	gmtext "github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// MaxMarkdown is the most bytes of Markdown that are read; a longer text is cut there. A story of 100,000
// letters is a book: practice, no source.
const MaxMarkdown = 200_000

// maxDepth is how deep lists and quotes may nest; what lies deeper is dropped.
const maxDepth = 12

// Markdown turns a maker's text into blocks. Raw HTML is dropped, not escaped into view; links stay only when
// they lead to http, https, mailto, an anchor, or a file beside the sheet; pictures become their alternative
// text. Headings begin at the given level, so that the order of headings on the sheet holds.
func Markdown(body string, level int) []Block {
	if len(body) > MaxMarkdown {
		body = strings.ToValidUTF8(body[:MaxMarkdown], "")
	}
	src := []byte(strings.ToValidUTF8(body, "\uFFFD"))
	doc := goldmark.New(goldmark.WithExtensions(extension.Table)).Parser().Parse(gmtext.NewReader(src))
	m := marker{src: src, level: level}
	m.shift = m.shiftOf(doc)
	return m.blocks(doc, 0)
}

type marker struct {
	src   []byte
	level int
	shift int // what is added to a heading's level
}

// shiftOf makes the text's topmost heading stand at the given level.
func (m marker) shiftOf(doc ast.Node) int {
	top := 7
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		if h, ok := n.(*ast.Heading); ok {
			top = min(top, h.Level)
		}
	}
	return m.level - top
}

func (m marker) blocks(parent ast.Node, depth int) []Block {
	var out []Block
	if depth > maxDepth {
		return out
	}
	last := m.level - 1 // of headings; none may be skipped (WCAG 2.2 technique G141)
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		switch x := n.(type) {
		case *ast.Paragraph, *ast.TextBlock:
			if s := m.line(n); len(s) > 0 {
				out = append(out, Block{Kind: Para, Spans: s})
			}
		case *ast.Heading:
			last = min(6, last+1, max(m.level, x.Level+m.shift))
			out = append(out, Block{Kind: Heading, Level: last, Spans: m.line(n)})
		case *ast.List:
			b := Block{Kind: List, Ordered: x.IsOrdered()}
			for i := n.FirstChild(); i != nil; i = i.NextSibling() {
				b.Items = append(b.Items, m.blocks(i, depth+1))
			}
			out = append(out, b)
		case *ast.Blockquote:
			out = append(out, Block{Kind: Quote, Blocks: m.blocks(n, depth+1)})
		case *ast.FencedCodeBlock, *ast.CodeBlock:
			var b strings.Builder
			for i := range n.Lines().Len() {
				s := n.Lines().At(i)
				b.Write(s.Value(m.src))
			}
			out = append(out, Block{Kind: Code, Text: strings.TrimRight(b.String(), "\n")})
		case *extast.Table:
			out = append(out, m.table(x))
		}
	}
	return out
}

func (m marker) table(t *extast.Table) Block {
	out := &Table{}
	for r := t.FirstChild(); r != nil; r = r.NextSibling() {
		var cells []Cell
		i := 0
		for c := r.FirstChild(); c != nil; c = c.NextSibling() {
			spans := m.line(c)
			if _, head := r.(*extast.TableHeader); head {
				right := i < len(t.Alignments) && t.Alignments[i] == extast.AlignRight
				out.Columns = append(out.Columns, Column{Title: plain(spans), Right: right, Share: 1})
			} else {
				cells = append(cells, Cell{Spans: spans})
			}
			i++
		}
		if cells != nil {
			out.Rows = append(out.Rows, Row{Cells: cells})
		}
	}
	return Block{Kind: Grid, Table: out}
}

// line is the text of a paragraph, heading or cell. The parser cuts text at every character that could have been
// markup; what is of one style becomes one span again, so that a word can be looked for in it.
func (m marker) line(n ast.Node) []Span {
	var out []Span
	for _, s := range m.spans(n, Span{}) {
		last := len(out) - 1
		if last >= 0 && !s.Break && !out[last].Break && same(out[last], s) {
			out[last].Text += s.Text
			continue
		}
		out = append(out, s)
	}
	return out
}

// spans flattens inline nodes; style is what holds around them.
func (m marker) spans(parent ast.Node, style Span) []Span {
	var out []Span
	add := func(s string) {
		if s != "" {
			x := style
			x.Text = s
			out = append(out, x)
		}
	}
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		switch x := n.(type) {
		case *ast.Text:
			v := x.Segment.Value(m.src)
			switch {
			case style.Code: // code spans are taken as they are
				v = bytes.ReplaceAll(v, []byte("\n"), []byte(" "))
			case !x.IsRaw():
				v = resolved(v)
			}
			add(string(v))
			switch {
			case x.HardLineBreak():
				out = append(out, Span{Break: true})
			case x.SoftLineBreak():
				add(" ")
			}
		case *ast.String:
			add(string(x.Value))
		case *ast.CodeSpan:
			s := style
			s.Code = true
			out = append(out, m.spans(n, s)...)
		case *ast.Emphasis:
			s := style
			if x.Level == 2 {
				s.Strong = true
			} else {
				s.Em = true
			}
			out = append(out, m.spans(n, s)...)
		case *ast.Link:
			s := style
			s.Href = SafeLink(string(resolved(x.Destination)))
			out = append(out, m.spans(n, s)...)
		case *ast.AutoLink:
			s := style
			s.Href = SafeLink(string(x.URL(m.src)))
			s.Text = string(x.Label(m.src))
			out = append(out, s)
		case *ast.Image:
			out = append(out, m.spans(n, style)...) // its alternative text
		case *ast.RawHTML:
			// dropped
		default:
			out = append(out, m.spans(n, style)...)
		}
	}
	return out
}

// resolved takes backslashes from escaped punctuation and turns entities into letters, as CommonMark 0.31
// sections 2.4 and 2.5 ask; the parser leaves that to the printer. In one pass: an escaped & begins no entity.
func resolved(b []byte) []byte {
	if !bytes.ContainsAny(b, "\\&") {
		return b
	}
	var out []byte
	for i := 0; i < len(b); i++ {
		switch {
		case b[i] == '\\' && i+1 < len(b) && util.IsPunct(b[i+1]):
			i++
			out = append(out, b[i])
		case b[i] == '&':
			// The longest name of HTML's table has 31 letters, &CounterClockwiseContourIntegral;
			end := bytes.IndexByte(b[i:min(len(b), i+34)], ';')
			if end < 0 {
				out = append(out, '&')
				continue
			}
			out = append(out, util.ResolveEntityNames(util.ResolveNumericReferences(b[i:i+end+1]))...)
			i += end
		default:
			out = append(out, b[i])
		}
	}
	return out
}

// SafeLink returns the address when a sheet may lead there: http, https, mailto, an anchor of the sheet, or a
// file beside it. Everything else (javascript:, data:, //host, a path that leaves the folder) gives "".
func SafeLink(address string) string {
	u, err := url.Parse(strings.TrimSpace(address))
	if err != nil || strings.ContainsAny(address, "\\\t\r\n") {
		return ""
	}
	switch strings.ToLower(u.Scheme) {
	case "http", "https":
		if u.Host == "" {
			return ""
		}
		return u.String()
	case "mailto":
		return u.String()
	case "":
		if u.Host != "" || strings.HasPrefix(u.Path, "/") {
			return ""
		}
		for _, s := range strings.Split(u.Path, "/") {
			if s == ".." {
				return ""
			}
		}
		return u.String()
	}
	return ""
}

// plain is the text of spans.
func plain(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		b.WriteString(s.Text)
		if s.Break {
			b.WriteByte(' ')
		}
	}
	return b.String()
}
