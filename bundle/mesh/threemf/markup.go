package threemf

import (
	"bytes"
	"strconv"
	"strings"
	"unicode/utf8"
)

// space is a namespace this package knows.
type space int

const (
	spaceNone space = iota // no namespace
	spaceCore
	spaceMaterial
	spaceProduction
	spaceXML
	spaceOther
)

// Namespaces as the specifications spell them.
const (
	uriCore       = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	uriMaterial   = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
	uriProduction = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
	uriXML        = "http://www.w3.org/XML/1998/namespace"
)

func spaceOf(uri string) space {
	switch uri {
	case "":
		return spaceNone
	case uriCore:
		return spaceCore
	case uriMaterial:
		return spaceMaterial
	case uriProduction:
		return spaceProduction
	case uriXML:
		return spaceXML
	}
	return spaceOther
}

// attribute is one attribute of the present start tag. The slices point into the scanner's buffer
// and hold until the next call of next.
type attribute struct {
	name  []byte // as written, with prefix
	local []byte
	raw   []byte // value between the quotes, entities not yet replaced
	space space  // spaceNone without a prefix
}

// scanAttributes reads what follows the name in a start tag, namespace declarations included.
func (s *scanner) scanAttributes(rest []byte) error {
	s.attrs = s.attrs[:0]
	for {
		trimmed := bytes.TrimLeft(rest, " \t\r\n")
		if len(trimmed) == 0 {
			return nil
		}
		if len(trimmed) == len(rest) {
			return s.fail("no white space before an attribute")
		}
		n := nameLen(trimmed)
		if n == 0 {
			return s.fail("a tag holds something that is no attribute: %q", clip(trimmed))
		}
		name := trimmed[:n]
		rest = bytes.TrimLeft(trimmed[n:], " \t\r\n")
		if len(rest) == 0 || rest[0] != '=' {
			return s.fail("attribute %q has no value", clip(name))
		}
		rest = bytes.TrimLeft(rest[1:], " \t\r\n")
		if len(rest) == 0 || rest[0] != '"' && rest[0] != '\'' {
			return s.fail("attribute %q has a value without quotes", clip(name))
		}
		end := bytes.IndexByte(rest[1:], rest[0])
		if end < 0 {
			return s.fail("attribute %q has a value without an end", clip(name))
		}
		value := rest[1 : 1+end]
		rest = rest[end+2:]
		for i := range s.attrs {
			if bytes.Equal(s.attrs[i].name, name) {
				return s.fail("attribute %q twice in one element", clip(name))
			}
		}
		if len(s.attrs) >= maxAttributes {
			return s.fail("more than %d attributes in one element", maxAttributes)
		}
		prefix, local := splitName(name)
		s.attrs = append(s.attrs, attribute{name: name, local: local, raw: value})
		switch {
		case string(prefix) == "xmlns":
			uri, err := s.unescape(value)
			if err != nil {
				return err
			}
			s.bindings = append(s.bindings, binding{string(local), uri, len(s.open)})
		case len(prefix) == 0 && string(local) == "xmlns":
			uri, err := s.unescape(value)
			if err != nil {
				return err
			}
			s.bindings = append(s.bindings, binding{"", uri, len(s.open)})
		}
	}
}

// unescape replaces the five named entities and character references.
func (s *scanner) unescape(raw []byte) (string, error) {
	if !utf8.Valid(raw) {
		return "", s.fail("the text %q is not UTF-8", clip(raw))
	}
	if bytes.IndexByte(raw, '&') < 0 {
		return string(raw), nil
	}
	var out strings.Builder
	for {
		i := bytes.IndexByte(raw, '&')
		if i < 0 {
			out.Write(raw)
			return out.String(), nil
		}
		out.Write(raw[:i])
		raw = raw[i+1:]
		end := bytes.IndexByte(raw, ';')
		if end < 0 || end > 32 {
			return "", s.fail("a '&' without an entity")
		}
		r, ok := entity(string(raw[:end]))
		if !ok {
			return "", s.fail("unknown entity %q", clip(raw[:end]))
		}
		out.WriteRune(r)
		raw = raw[end+1:]
	}
}

func entity(name string) (rune, bool) {
	switch name {
	case "amp":
		return '&', true
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	if digits, ok := strings.CutPrefix(name, "#x"); ok {
		n, err := strconv.ParseUint(digits, 16, 32)
		return rune(n), err == nil && n > 0 && n <= utf8.MaxRune && utf8.ValidRune(rune(n))
	}
	if digits, ok := strings.CutPrefix(name, "#"); ok {
		n, err := strconv.ParseUint(digits, 10, 32)
		return rune(n), err == nil && n > 0 && n <= utf8.MaxRune && utf8.ValidRune(rune(n))
	}
	return 0, false
}

func isSpace(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

// nameLen is the length of the XML name that b starts with, 0 for none. Letters outside ASCII are
// taken as they come: no name that this package looks for has any.
func nameLen(b []byte) int {
	for i, c := range b {
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c == ':' || c >= 0x80
		if !letter && (i == 0 || !(c >= '0' && c <= '9' || c == '-' || c == '.')) {
			return i
		}
	}
	return len(b)
}

func splitName(name []byte) (prefix, local []byte) {
	if i := bytes.IndexByte(name, ':'); i >= 0 {
		return name[:i], name[i+1:]
	}
	return nil, name
}

// internName avoids an allocation for the two elements of which there are millions.
func internName(name []byte) string {
	switch string(name) {
	case "vertex":
		return "vertex"
	case "triangle":
		return "triangle"
	}
	return string(name)
}

// clip shortens what goes into a message.
func clip(b []byte) string {
	if len(b) > 60 {
		return strings.ToValidUTF8(string(b[:60]), "?") + "…"
	}
	return strings.ToValidUTF8(string(b), "?")
}
