package source

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"dropwright/bundle/finding"
)

// Limits of a manifest. A year's season.yaml is about 10 kB; 1 MiB leaves two orders of magnitude, and the
// YAML reader's time grows with depth (20,000 levels take seconds), so depth is capped before it runs.
const (
	MaxBytes = 1 << 20
	MaxDepth = 32
)

// Parse reads one YAML document. The tree is nil when the text cannot be read at all; the findings then
// say why. file is the name used in places.
func Parse(file string, data []byte) (root *Node, text *Text, found []finding.Finding) {
	text = NewText(file, data)
	fail := func(at finding.Place, msg, hint string) (*Node, *Text, []finding.Finding) {
		return nil, text, append(found, finding.New("text-unreadable", at, msg, hint))
	}
	top := finding.Place{File: file, Line: 1, Column: 1}
	switch {
	case len(data) > MaxBytes:
		return fail(top, fmt.Sprintf("the file holds %d bytes, the limit is %d", len(data), MaxBytes), "a manifest is text written by a person; move data into files of their own and name them")
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return fail(top, "the file is UTF-16", "save it as UTF-8 in your editor")
	}
	if at, ok := badUTF8(text); !ok {
		return fail(at, "a byte here is not UTF-8", "save the file as UTF-8 in your editor")
	}
	if at, why := tooDeep(text); why != "" {
		return fail(at, why, "a manifest never needs more than a few levels")
	}
	if strings.TrimSpace(stripComments(text.Body)) == "" {
		return fail(top, "the file is empty", "`dropwright new NAME` writes a design to start from")
	}
	f, err := parseYAML([]byte(text.Body))
	if err != nil {
		at, msg := syntaxPlace(text, err)
		return fail(at, "this is not YAML: "+strings.ReplaceAll(msg, "\t", `\t`), syntaxHint(text.line(at.Line), msg))
	}
	var docs []*ast.DocumentNode
	for _, d := range f.Docs {
		if d != nil && d.Body != nil && d.Body.Type() != ast.CommentType && d.Body.Type() != ast.DirectiveType {
			docs = append(docs, d)
		}
	}
	if len(docs) == 0 {
		return fail(top, "the file holds no value", "`dropwright new NAME` writes a design to start from")
	}
	b := builder{text: text}
	if len(docs) > 1 {
		b.refuse(docs[1].Body.GetToken(), "a second document", "keep one document a file: remove the --- line")
	}
	root = b.node(docs[0].Body, 0)
	b.curly(root)
	found = append(found, b.found...)
	if b.fatal {
		return nil, text, found
	}
	return root, text, found
}

// parseYAML calls the library; a panic inside it (a hostile file) becomes an error.
func parseYAML(data []byte) (f *ast.File, err error) {
	defer func() {
		if r := recover(); r != nil {
			f, err = nil, errors.New("the reader gave up on this text")
		}
	}()
	return parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
}

func badUTF8(t *Text) (finding.Place, bool) {
	if utf8.ValidString(t.Body) && !strings.ContainsRune(t.Body, 0) {
		return finding.Place{}, true
	}
	for i, l := range t.lines {
		for c := 0; c < len(l); {
			r, n := utf8.DecodeRuneInString(l[c:])
			if r == utf8.RuneError && n <= 1 || r == 0 {
				return finding.Place{File: t.File, Line: i + 1, Column: c + 1}, false
			}
			c += n
		}
	}
	return finding.Place{File: t.File, Line: 1, Column: 1}, false
}

// tooDeep bounds nesting before the YAML reader sees the text: brackets open at once, list dashes in a row,
// and the depth of indents. It counts brackets inside quotes too, which is why its bound is generous;
// the exact bound is kept while the tree is built.
func tooDeep(t *Text) (finding.Place, string) {
	open := 0
	for i, l := range t.lines {
		indent := len(l) - len(strings.TrimLeft(l, " "))
		dashes := 0
		for rest := strings.TrimLeft(l, " "); strings.HasPrefix(rest, "- "); rest = strings.TrimLeft(rest[2:], " ") {
			dashes++
		}
		at := finding.Place{File: t.File, Line: i + 1, Column: 1}
		if dashes > MaxDepth || indent > 8*MaxDepth && strings.TrimSpace(l) != "" {
			return at, fmt.Sprintf("this line is nested deeper than %d levels", MaxDepth)
		}
		open += strings.Count(l, "[") + strings.Count(l, "{") - strings.Count(l, "]") - strings.Count(l, "}")
		if open > 4*MaxDepth {
			return at, "too many brackets are open here"
		}
		if strings.Count(l, "[")+strings.Count(l, "{") > 4000 {
			return at, "too many brackets on one line"
		}
		if q := strings.Count(l, "? "); q > 200 {
			return at, "too many complex keys on one line"
		}
	}
	return finding.Place{}, ""
}

func stripComments(s string) string {
	var b strings.Builder
	for _, l := range strings.Split(s, "\n") {
		if !strings.HasPrefix(strings.TrimSpace(l), "#") {
			b.WriteString(l)
		}
	}
	return strings.ReplaceAll(b.String(), "---", "")
}

func syntaxPlace(t *Text, err error) (finding.Place, string) {
	var se *yaml.SyntaxError
	if errors.As(err, &se) && se.Token != nil && se.Token.Position != nil {
		p := se.Token.Position
		return t.place(p.Line, p.Column, len(strings.TrimSpace(se.Token.Value))), se.Message
	}
	return finding.Place{File: t.File, Line: 1, Column: 1}, err.Error()
}

func syntaxHint(line, msg string) string {
	switch trimmed := strings.TrimLeft(line, " "); {
	case strings.Contains(line, "\t"):
		return "there is a tab in this line: indent with spaces"
	case strings.Contains(line, "\u00a0"):
		return "there is a no-break space in this line: replace it with a plain space"
	case strings.HasPrefix(trimmed, "%") || strings.HasPrefix(trimmed, "@") || strings.HasPrefix(trimmed, "`"):
		return "put quotes around a text that starts with %, @ or `"
	case strings.Contains(line, `\`) && strings.Contains(line, `"`):
		return `inside double quotes \ begins an escape: use single quotes, or / in paths`
	case strings.Count(line, ": ") > 1:
		return "a text with a colon and a space needs quotes"
	case strings.Contains(msg, "indent") || strings.Contains(msg, "map"):
		return "check the indent: keys of one map start in one column, two spaces a level"
	}
	if strings.Contains(msg, "must be specified") {
		return "a { or [ further up is not closed: look for its missing } or ]"
	}
	return "look at this line and the one above it: a bracket, a quote or an indent is off"
}

type builder struct {
	text  *Text
	found []finding.Finding
	fatal bool
}

func (b *builder) refuse(tk *token.Token, what, hint string) {
	b.found = append(b.found, finding.New("yaml-feature", b.at(tk), what+" is not part of a manifest", hint))
	b.fatal = true
}

func (b *builder) at(tk *token.Token) finding.Place {
	if tk == nil || tk.Position == nil {
		return finding.Place{File: b.text.File, Line: 1, Column: 1}
	}
	width := len(strings.TrimSpace(tk.Origin))
	if i := strings.IndexByte(strings.TrimSpace(tk.Origin), '\n'); i >= 0 {
		width = i
	}
	return b.text.place(tk.Position.Line, tk.Position.Column, width)
}

// node turns the library's tree into ours. depth counts maps and lists from the root.
func (b *builder) node(n ast.Node, depth int) *Node {
	if depth > MaxDepth {
		b.found = append(b.found, finding.New("text-unreadable", b.at(n.GetToken()), fmt.Sprintf("nested deeper than %d levels", MaxDepth), "a manifest never needs more than a few levels"))
		b.fatal = true
		return &Node{Kind: Null, At: b.at(n.GetToken())}
	}
	switch v := n.(type) {
	case *ast.MappingNode:
		out := &Node{Kind: Map, At: b.at(v.GetToken())}
		for i, p := range v.Values {
			if i == 0 && !v.IsFlowStyle {
				out.At = b.at(p.Key.GetToken())
			}
			b.pair(out, p, depth)
		}
		return out
	case *ast.MappingValueNode:
		out := &Node{Kind: Map, At: b.at(v.Key.GetToken())}
		b.pair(out, v, depth)
		return out
	case *ast.SequenceNode:
		out := &Node{Kind: List, At: b.at(v.GetToken())}
		for _, it := range v.Values {
			if it == nil {
				out.Items = append(out.Items, &Node{Kind: Null, At: out.At})
				continue
			}
			out.Items = append(out.Items, b.node(it, depth+1))
		}
		return out
	case *ast.NullNode:
		tk := v.GetToken()
		return &Node{Kind: Null, At: b.at(tk)}
	case *ast.LiteralNode:
		at := b.at(v.GetToken())
		return &Node{Kind: Scalar, At: at, Text: v.Value.Value, Quoted: true}
	case *ast.StringNode:
		q := v.Token.Type == token.DoubleQuoteType || v.Token.Type == token.SingleQuoteType
		return &Node{Kind: Scalar, At: b.at(v.Token), Text: v.Token.Value, Quoted: q}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return &Node{Kind: Scalar, At: b.at(v.GetToken()), Text: v.GetToken().Value}
	case *ast.AnchorNode:
		b.refuse(v.GetToken(), "an anchor (&)", "write the value out, or put quotes around a text that starts with &")
	case *ast.AliasNode:
		b.refuse(v.GetToken(), "an alias (*)", "write the value out, or put quotes around a text that starts with *")
	case *ast.TagNode:
		b.refuse(v.GetToken(), "a tag (!)", "remove the tag, or put quotes around a text that starts with !")
	case *ast.MergeKeyNode:
		b.refuse(v.GetToken(), "a merge (<<)", "write the keys out")
	default:
		b.refuse(n.GetToken(), "this form of YAML", "write a plain map, list or text")
	}
	return &Node{Kind: Null, At: b.at(n.GetToken())}
}

func (b *builder) pair(out *Node, p *ast.MappingValueNode, depth int) {
	key, ok := b.key(p.Key)
	if !ok {
		return
	}
	at := b.at(p.Key.GetToken())
	for _, q := range out.Pairs {
		if q.Key == key {
			b.found = append(b.found, finding.New("key-twice", at, fmt.Sprintf("the key %q stands here a second time, first in line %d", key, q.KeyAt.Line), "keep one of the two"))
			return
		}
	}
	if p.Value == nil {
		out.Pairs = append(out.Pairs, Pair{Key: key, KeyAt: at, Value: &Node{Kind: Null, At: at}})
		return
	}
	v := b.node(p.Value, depth+1)
	if v.Kind == Null {
		v.At = at // the key is where a person looks for what is absent
	}
	out.Pairs = append(out.Pairs, Pair{Key: key, KeyAt: at, Value: v})
}

func (b *builder) key(k ast.MapKeyNode) (string, bool) {
	switch v := k.(type) {
	case *ast.StringNode:
		return v.Token.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode:
		return v.GetToken().Value, true
	case *ast.MergeKeyNode:
		b.refuse(v.GetToken(), "a merge (<<)", "write the keys out")
	default:
		b.refuse(k.GetToken(), "a key that is not plain text", "write key: value")
	}
	return "", false
}

// curly warns of typographic quotes at the ends of a plain text: they become part of it.
func (b *builder) curly(n *Node) {
	switch n.Kind {
	case Scalar:
		first, _ := utf8.DecodeRuneInString(n.Text)
		if !n.Quoted && strings.ContainsRune("“”„‘’«»", first) {
			b.found = append(b.found, finding.New("quote-curly", n.At, "typographic quotes become part of the text", `use plain quotes: "…"`))
		}
	case Map:
		for _, p := range n.Pairs {
			b.curly(p.Value)
		}
	case List:
		for _, it := range n.Items {
			b.curly(it)
		}
	}
}
