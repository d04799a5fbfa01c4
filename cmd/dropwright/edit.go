package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
	"dropwright/series/disk"
)

// edit changes single values of a YAML file that a person keeps: those bytes only, so that comments, order
// and spacing stay. It knows the forms that people write; what it cannot edit surely it refuses, and the
// caller decodes the result before anything is written.
type edit struct {
	file    string // as shown
	before  []byte
	root    *source.Node
	starts  []int // byte offset of each line in before
	patches []patch
	err     error
}

// patch replaces the bytes from..to.
type patch struct {
	from, to int
	text     string
}

// editing takes a file's text apart. A text that cannot be read gives an error that says where.
func editing(file string, data []byte) (*edit, error) {
	root, _, found := source.Parse(file, data)
	if root == nil || root.Kind != source.Map {
		at, text := finding.Place{File: file}, "it is no map"
		if len(found) > 0 {
			at, text = found[0].At, found[0].Text
		}
		return nil, unreadable("mend it first", "%s: %s", at, text)
	}
	e := &edit{file: file, before: data, root: root}
	body := string(data)
	at := len(body) - len(strings.TrimPrefix(body, "\ufeff"))
	e.starts = append(e.starts, at)
	for i := at; i < len(body); i++ {
		if body[i] == '\n' || body[i] == '\r' && !strings.HasPrefix(body[i+1:], "\n") {
			e.starts = append(e.starts, i+1)
		}
	}
	return e, nil
}

// offset is where a place stands in the file's bytes.
func (e *edit) offset(at finding.Place) int {
	if at.Line < 1 || at.Line > len(e.starts) || at.Column < 1 || e.starts[at.Line-1]+at.Column-1 > len(e.before) {
		e.fail(at, "its place cannot be found")
		return 0
	}
	return e.starts[at.Line-1] + at.Column - 1
}

func (e *edit) fail(at finding.Place, why string) {
	if e.err == nil {
		e.err = unreadable("change that line by hand", "%s cannot be edited safely: %s", at, why)
	}
}

// swap replaces the scalar at a place, whose text is was, by another; quotes stay.
func (e *edit) swap(at finding.Place, was, text string) {
	if was == text {
		return
	}
	from := e.offset(at)
	if e.err != nil {
		return
	}
	for _, quote := range []string{"", `"`, `'`} {
		if strings.HasPrefix(string(e.before[from:]), quote+was+quote) {
			e.patches = append(e.patches, patch{from + len(quote), from + len(quote) + len(was), text})
			return
		}
	}
	e.fail(at, fmt.Sprintf("%q does not stand there as it is read", was))
}

// insert puts text before a place.
func (e *edit) insert(at finding.Place, text string) {
	from := e.offset(at)
	e.patches = append(e.patches, patch{from, from, text})
}

// indent is what stands before a place in its line.
func (e *edit) indent(at finding.Place) string {
	return string(e.before[e.starts[at.Line-1]:e.offset(at)])
}

// newline is the line end that the file uses.
func (e *edit) newline() string {
	if strings.Contains(string(e.before), "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// flow says whether a map or list is written in braces or brackets.
func (e *edit) flow(n *source.Node) bool {
	i := e.offset(n.At)
	return i < len(e.before) && (e.before[i] == '{' || e.before[i] == '[')
}

var blank = regexp.MustCompile(`^[ \t]*$`)

// addKey puts a key into a map as its first.
func (e *edit) addKey(n *source.Node, key, value string) {
	switch {
	case e.flow(n):
		text := key + ": " + value
		if len(n.Pairs) > 0 {
			text += ", "
		}
		at := n.At
		at.Column++
		e.insert(at, text)
	case len(n.Pairs) == 0 || !blank.MatchString(e.indent(n.Pairs[0].KeyAt)):
		e.fail(n.At, "the map is not written one key a line")
	default:
		first := n.Pairs[0].KeyAt
		e.insert(first, key+": "+value+e.newline()+e.indent(first))
	}
}

// addKeyAfter puts a key into a map behind another key whose value ends in the key's line.
func (e *edit) addKeyAfter(n *source.Node, other, key, value string) {
	for _, p := range n.Pairs {
		if p.Key != other || e.flow(n) || p.KeyAt.Line >= len(e.starts) || !blank.MatchString(e.indent(p.KeyAt)) {
			continue
		}
		e.insert(finding.Place{File: p.KeyAt.File, Line: p.KeyAt.Line + 1, Column: 1}, e.indent(p.KeyAt)+key+": "+value+e.newline())
		return
	}
	e.addKey(n, key, value)
}

// addItem puts an entry on top of a list.
func (e *edit) addItem(n *source.Node, value string) {
	if e.flow(n) {
		if len(n.Items) > 0 {
			value += ", "
		}
		at := n.At
		at.Column++
		e.insert(at, value)
		return
	}
	if len(n.Items) == 0 {
		e.fail(n.At, "the list is empty")
		return
	}
	first := n.Items[0].At
	start := e.indent(first)
	dash := strings.LastIndexByte(start, '-')
	if dash < 0 || !blank.MatchString(start[:dash]) || !blank.MatchString(start[dash+1:]) {
		e.fail(first, "its dash does not stand before it in the same line")
		return
	}
	at := finding.Place{File: first.File, Line: first.Line, Column: dash + 1}
	e.insert(at, "- "+value+e.newline()+start[:dash])
}

// after is the file with every change made.
func (e *edit) after() ([]byte, error) {
	if e.err != nil {
		return nil, e.err
	}
	slices.SortStableFunc(e.patches, func(a, b patch) int { return a.from - b.from })
	var b strings.Builder
	at := 0
	for _, c := range e.patches {
		if c.from < at {
			return nil, fmt.Errorf("%s: two changes overlap", e.file)
		}
		b.Write(e.before[at:c.from])
		b.WriteString(c.text)
		at = c.to
	}
	b.Write(e.before[at:])
	return []byte(b.String()), nil
}

// quoteYAML writes a text as a YAML value: plain where nothing in it could mean something else.
func quoteYAML(s string) string {
	if plainYAML.MatchString(s) && !strings.Contains(s, ": ") && !strings.Contains(s, " #") && !strings.HasSuffix(s, ":") && !strings.HasSuffix(s, " ") {
		switch strings.ToLower(s) {
		case "null", "true", "false", "yes", "no", "on", "off":
		default:
			return s
		}
	}
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(s) // a string always encodes
	return strings.TrimSpace(b.String())
}

// plainYAML are texts that need no quotes even between braces.
var plainYAML = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9 .;()/+:'-]*$`)

// changedLines lists the lines that differ, the old with "-", the new with "+".
func changedLines(before, after []byte) []string {
	a, b := strings.Split(string(before), "\n"), strings.Split(string(after), "\n")
	for len(a) > 0 && len(b) > 0 && a[0] == b[0] {
		a, b = a[1:], b[1:]
	}
	for len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1] {
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	var out []string
	same := len(a) == len(b)
	for i, l := range a {
		if same && l == b[i] {
			continue
		}
		out = append(out, "- "+strings.TrimRight(l, "\r"))
	}
	for i, l := range b {
		if same && l == a[i] {
			continue
		}
		out = append(out, "+ "+strings.TrimRight(l, "\r"))
	}
	return out
}

// replaceFile writes a changed file durably.
func (a *app) replaceFile(path string, data []byte) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // the link stays a link
	}
	if err := disk.Replace(disk.OS(), path, data); err != nil {
		return machine("check the space on the disk and that the file may be written", "writing %s: %w", a.shown(path), err)
	}
	return nil
}
