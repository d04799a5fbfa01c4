package threemf

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// kind is what the scanner has found.
type kind int

const (
	atEnd   kind = iota // end of the document
	atStart             // start tag; an empty-element tag gives atStart, then atClose
	atClose             // end tag
	atText              // text or CDATA
)

type binding struct {
	prefix, uri string
	depth       int
}

// scanner is a strict pull reader of one XML document in UTF-8. It is stricter than encoding/xml
// where 3MF demands it or a lax reading could hide something: no DOCTYPE, no attribute twice, one
// root, nothing but white space around it. It is also ten times as fast, and hands out its buffer to
// the vertex and triangle loops (fast.go).
type scanner struct {
	part string // for messages
	src  io.Reader
	buf  []byte
	pos  int   // start of the present token in buf
	base int64 // offset of buf[0] in the document
	eof  bool
	err  error // of src

	started  bool // past the BOM and the XML declaration
	rootSeen bool
	closing  bool // an empty-element tag waits for its atClose
	open     []string
	bindings []binding

	// The present token.
	space    space
	local    []byte
	attrs    []attribute
	text     []byte // atText: raw
	isCDATA  bool
	comments []string
}

func newScanner(part string, src io.Reader) *scanner {
	return &scanner{part: part, src: src, buf: make([]byte, 0, 1<<16)}
}

// fail makes the error for the present token: part, offset, what is wrong.
func (s *scanner) fail(format string, args ...any) error {
	return fmt.Errorf("%q, byte %d: %w", s.part, s.base+int64(s.pos), fmt.Errorf(format, args...))
}

// fill reads more behind buf, dropping what lies before pos. It returns false at the end of the
// document, on a read error, and when the token has grown past maxToken.
func (s *scanner) fill() bool {
	if s.eof || s.err != nil {
		return false
	}
	if s.pos > 0 {
		n := copy(s.buf, s.buf[s.pos:])
		s.buf = s.buf[:n]
		s.base += int64(s.pos)
		s.pos = 0
	}
	if len(s.buf) >= maxToken {
		s.err = s.fail("a tag or text is longer than %d bytes", maxToken)
		return false
	}
	if len(s.buf) == cap(s.buf) {
		grown := make([]byte, len(s.buf), 2*cap(s.buf))
		copy(grown, s.buf)
		s.buf = grown
	}
	for {
		n, err := s.src.Read(s.buf[len(s.buf):cap(s.buf)])
		s.buf = s.buf[:len(s.buf)+n]
		if err == io.EOF {
			s.eof = true
			return n > 0
		}
		if err != nil {
			s.err = fmt.Errorf("%q: %w", s.part, err)
			return false
		}
		if n > 0 {
			return true
		}
	}
}

// ended is the error for a document that stops inside something.
func (s *scanner) ended(what string) error {
	if s.err != nil {
		return s.err
	}
	return s.fail("the file ends inside %s: it is cut off, export it again", what)
}

// next moves to the next token. Comments and processing instructions are passed over.
func (s *scanner) next() (kind, error) {
	if s.closing {
		s.closing = false
		s.pop()
		return atClose, nil
	}
	if !s.started {
		if err := s.prolog(); err != nil {
			return atEnd, err
		}
	}
	for {
		if s.pos >= len(s.buf) && !s.fill() {
			return atEnd, s.finish()
		}
		if s.buf[s.pos] != '<' {
			if err := s.scanText(); err != nil {
				return atEnd, err
			}
			if len(s.open) > 0 {
				return atText, nil
			}
			if len(bytes.TrimLeft(s.text, " \t\r\n")) > 0 {
				if s.rootSeen {
					return atEnd, s.fail("text after the root element")
				}
				return atEnd, s.fail("text before the root element: not an XML document")
			}
			continue
		}
		for len(s.buf)-s.pos < 2 {
			if !s.fill() {
				return atEnd, s.ended("a tag")
			}
		}
		switch s.buf[s.pos+1] {
		case '!':
			got, err := s.scanBang()
			if err != nil || got {
				return atText, err
			}
		case '?':
			if err := s.scanInstruction(); err != nil {
				return atEnd, err
			}
		case '/':
			return atClose, s.scanClose()
		default:
			return atStart, s.scanStart()
		}
	}
}

// finish judges the end of the document.
func (s *scanner) finish() error {
	if s.err != nil {
		return s.err
	}
	if len(s.open) > 0 {
		return s.fail("the file ends inside <%s>: it is cut off, export it again", s.open[len(s.open)-1])
	}
	if !s.rootSeen {
		return s.fail("no root element: the part is empty")
	}
	return nil
}

// prolog passes a BOM and an XML declaration; everything but UTF-8 is refused (2.3.2).
func (s *scanner) prolog() error {
	s.started = true
	for len(s.buf) < 6 && s.fill() {
	}
	if s.err != nil {
		return s.err
	}
	if bytes.HasPrefix(s.buf, []byte{0xfe, 0xff}) || bytes.HasPrefix(s.buf, []byte{0xff, 0xfe}) {
		return s.fail("the part is UTF-16, a 3MF package must be UTF-8")
	}
	if bytes.HasPrefix(s.buf, []byte("\xef\xbb\xbf")) {
		s.pos = 3
	}
	for len(s.buf)-s.pos < 6 && s.fill() {
	}
	rest := s.buf[s.pos:]
	if !bytes.HasPrefix(rest, []byte("<?xml")) || len(rest) < 6 || !isSpace(rest[5]) {
		return nil
	}
	end, err := s.find("?>", 5, "the XML declaration")
	if err != nil {
		return err
	}
	declaration := string(s.buf[s.pos : s.pos+end])
	if i := strings.Index(declaration, "encoding"); i >= 0 {
		value := strings.Trim(declaration[i+len("encoding"):], " \t\r\n=")
		if len(value) > 0 {
			value, _, _ = strings.Cut(value[1:], value[:1])
		}
		if !strings.EqualFold(value, "utf-8") && !strings.EqualFold(value, "utf8") {
			return s.fail("encoding %q: a 3MF package must be UTF-8", value)
		}
	}
	s.pos += end + 2
	return nil
}

// find returns the offset from pos of the next occurrence of mark, at or after offset from.
func (s *scanner) find(mark string, from int, what string) (int, error) {
	for {
		if s.pos+from <= len(s.buf) {
			if i := bytes.Index(s.buf[s.pos+from:], []byte(mark)); i >= 0 {
				return from + i, nil
			}
			from = max(from, len(s.buf)-s.pos-len(mark)+1)
		}
		if !s.fill() {
			return 0, s.ended(what)
		}
	}
}

func (s *scanner) scanText() error {
	for i := s.pos; ; {
		if j := bytes.IndexByte(s.buf[i:], '<'); j >= 0 {
			s.text = s.buf[s.pos : i+j]
			s.isCDATA = false
			s.pos = i + j
			return nil
		}
		n := len(s.buf) - s.pos
		if !s.fill() {
			if s.err != nil {
				return s.err
			}
			s.text = s.buf[s.pos:]
			s.isCDATA = false
			s.pos = len(s.buf)
			return nil
		}
		i = s.pos + n
	}
}

// scanBang passes a comment; for CDATA it returns true and sets text; a DOCTYPE is refused (2.3.2).
func (s *scanner) scanBang() (bool, error) {
	for len(s.buf)-s.pos < 9 && s.fill() {
	}
	if s.err != nil {
		return false, s.err
	}
	rest := s.buf[s.pos:]
	switch {
	case bytes.HasPrefix(rest, []byte("<!--")):
		end, err := s.find("-->", 4, "a comment")
		if err != nil {
			return false, err
		}
		if len(s.comments) < maxComments {
			text := s.buf[s.pos+4 : s.pos+end]
			s.comments = append(s.comments, strings.ToValidUTF8(string(text[:min(len(text), maxCommentBytes)]), "?"))
		}
		s.pos += end + 3
		return false, nil
	case bytes.HasPrefix(rest, []byte("<![CDATA[")):
		if len(s.open) == 0 {
			return false, s.fail("text outside the root element")
		}
		end, err := s.find("]]>", 9, "a CDATA section")
		if err != nil {
			return false, err
		}
		s.text = s.buf[s.pos+9 : s.pos+end]
		s.isCDATA = true
		s.pos += end + 3
		return true, nil
	case bytes.HasPrefix(rest, []byte("<!DOCTYPE")):
		return false, s.fail("a DOCTYPE is not allowed in a 3MF package")
	case len(rest) < 9:
		return false, s.ended("a declaration")
	}
	return false, s.fail("a markup declaration is not allowed in a 3MF package")
}

func (s *scanner) scanInstruction() error {
	for len(s.buf)-s.pos < 6 && s.fill() {
	}
	rest := s.buf[s.pos:]
	if len(rest) >= 6 && bytes.EqualFold(rest[:5], []byte("<?xml")) && (isSpace(rest[5]) || rest[5] == '?') {
		return s.fail("an XML declaration in the middle of the part")
	}
	end, err := s.find("?>", 2, "a processing instruction")
	if err != nil {
		return err
	}
	s.pos += end + 2
	return nil
}

// tagEnd returns the offset from pos of the '>' that ends the tag at pos; one within quotes does not count.
func (s *scanner) tagEnd() (int, error) {
	quote := byte(0)
	for i := 1; ; {
		for ; s.pos+i < len(s.buf); i++ {
			c := s.buf[s.pos+i]
			switch {
			case c == '<':
				return 0, s.fail("a '<' inside a tag")
			case quote != 0:
				if c == quote {
					quote = 0
				}
			case c == '"' || c == '\'':
				quote = c
			case c == '>':
				return i, nil
			}
		}
		if !s.fill() {
			return 0, s.ended("a tag")
		}
	}
}

func (s *scanner) scanClose() error {
	end, err := s.tagEnd()
	if err != nil {
		return err
	}
	name := bytes.TrimRight(s.buf[s.pos+2:s.pos+end], " \t\r\n")
	if len(s.open) == 0 {
		return s.fail("</%s> closes nothing", clip(name))
	}
	if top := s.open[len(s.open)-1]; string(name) != top {
		return s.fail("</%s> where </%s> must stand", clip(name), clip([]byte(top)))
	}
	s.pos += end + 1
	s.pop()
	return nil
}

func (s *scanner) pop() {
	for len(s.bindings) > 0 && s.bindings[len(s.bindings)-1].depth == len(s.open) {
		s.bindings = s.bindings[:len(s.bindings)-1]
	}
	s.open = s.open[:len(s.open)-1]
}

func (s *scanner) scanStart() error {
	end, err := s.tagEnd()
	if err != nil {
		return err
	}
	if len(s.open) == 0 && s.rootSeen {
		return s.fail("a second root element")
	}
	s.rootSeen = true
	tag := s.buf[s.pos+1 : s.pos+end]
	if len(tag) > 0 && tag[len(tag)-1] == '/' {
		s.closing = true
		tag = tag[:len(tag)-1]
	}
	n := nameLen(tag)
	if n == 0 {
		return s.fail("a '<' that starts no tag")
	}
	name := tag[:n]
	if len(s.open) >= maxDepth {
		return s.fail("elements are nested deeper than %d", maxDepth)
	}
	s.open = append(s.open, internName(name))
	if err := s.scanAttributes(tag[n:]); err != nil {
		return err
	}
	var prefix []byte
	prefix, s.local = splitName(name)
	if s.space, err = s.lookup(prefix); err != nil {
		return err
	}
	for i := range s.attrs {
		a := &s.attrs[i]
		prefix, _ := splitName(a.name)
		if len(prefix) == 0 || string(prefix) == "xmlns" {
			continue
		}
		if a.space, err = s.lookup(prefix); err != nil {
			return err
		}
		// 2.3.4: white space has no meaning in a 3MF part.
		if a.space == spaceXML && string(a.local) == "space" {
			return s.fail("the attribute xml:space is not allowed in a 3MF package")
		}
	}
	s.pos += end + 1
	return nil
}

// uri returns what a prefix stands for; false if it stands for nothing.
func (s *scanner) uri(prefix string) (string, bool) {
	for i := len(s.bindings) - 1; i >= 0; i-- {
		if s.bindings[i].prefix == prefix {
			return s.bindings[i].uri, true
		}
	}
	if prefix == "xml" {
		return uriXML, true
	}
	return "", prefix == ""
}

func (s *scanner) lookup(prefix []byte) (space, error) {
	uri, ok := s.uri(string(prefix))
	if !ok {
		return spaceNone, s.fail("the prefix %q is not declared", clip(prefix))
	}
	return spaceOf(uri), nil
}

// is reports whether the present element is that one.
func (s *scanner) is(sp space, local string) bool {
	return s.space == sp && string(s.local) == local
}

// attr returns the value of an attribute of the present start tag, entities replaced.
func (s *scanner) attr(sp space, local string) (string, bool, error) {
	for i := range s.attrs {
		if s.attrs[i].space == sp && string(s.attrs[i].local) == local && (sp != spaceNone || len(s.attrs[i].name) == len(local)) {
			value, err := s.unescape(s.attrs[i].raw)
			return value, true, err
		}
	}
	return "", false, nil
}

// skip passes the rest of the present element.
func (s *scanner) skip() error {
	for depth := len(s.open); ; {
		k, err := s.next()
		if err != nil {
			return err
		}
		if k == atClose && len(s.open) == depth-1 {
			return nil
		}
	}
}
