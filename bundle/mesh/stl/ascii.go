package stl

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"encoding/binary"

	"dropwright/bundle/mesh"
)

const (
	maxSolidNames = 100 // kept; more are read but not remembered
	maxNameBytes  = 200 // of one name
)

// decodeASCII reads a text file.
func decodeASCII(data []byte) (*mesh.Mesh, Info, error) {
	p := piece{data: data, pos: len(data) - len(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))), to: len(data)}
	p.run()
	if p.err == nil && (p.first != outside || p.last != outside) {
		p.fail(len(data), "the file ends inside a solid: it is cut short")
	}
	if p.err != nil {
		return nil, Info{}, p.err
	}
	if len(p.soup) == 0 {
		return nil, Info{}, refuse("the file holds no facets", "check that the part is visible in CAD and "+exportAgain)
	}
	m, err := mesh.Weld(mesh.Soup{Data: p.soup, Stride: 36})
	if err != nil {
		return nil, Info{}, err
	}
	return m, Info{Format: ASCII, Solids: p.names}, nil
}

// Whether a place between facets lies in a solid.
const (
	unknown = iota
	inside
	outside
)

// piece is a run of an ASCII file, read on its own: from a place between facets to another.
type piece struct {
	data    []byte
	pos, to int
	soup    []byte // nine little-endian float32 a facet
	names   []string
	solid   string // name of the solid last opened
	first   int    // what the first word needs the start to be
	last    int    // what the end is
	err     error
}

// run reads facets, and the lines that open and close solids, up to the end of the piece.
func (p *piece) run() {
	for p.err == nil {
		p.space()
		if p.pos >= p.to {
			return
		}
		switch start := p.pos; {
		case p.word("facet"):
			p.enter(inside, inside, start)
			p.facet()
		case p.word("endsolid"):
			p.enter(inside, outside, start)
			p.endSolid(p.line())
		case p.word("solid"):
			p.enter(outside, inside, start)
			p.solid = p.line()
			if len(p.names) < maxSolidNames {
				p.names = append(p.names, strings.ToValidUTF8(p.solid[:min(len(p.solid), maxNameBytes)], "\ufffd"))
			}
		default:
			p.expected("facet or endsolid")
		}
	}
}

// enter checks and changes the state between facets.
func (p *piece) enter(need, then, at int) {
	if p.last == unknown && p.first == unknown {
		p.first = need
	} else if p.last != need {
		if need == inside {
			p.fail(at, "a facet or endsolid stands outside of any solid")
		} else {
			p.fail(at, "a solid begins before the last one ended: endsolid is missing")
		}
	}
	p.last = then
}

// endSolid compares the names: a file cut in its last line still has all its facets' lines, but not
// certainly all its solids.
func (p *piece) endSolid(name string) {
	if name != "" && len(name) < len(p.solid) && strings.HasPrefix(p.solid, name) && p.pos >= len(p.data) {
		p.fail(len(p.data), fmt.Sprintf("the file breaks off in the name %q", p.solid))
	}
}

// facet reads what follows the word "facet".
func (p *piece) facet() {
	if !p.need("normal") {
		return
	}
	for range 3 {
		p.skipNumber()
	}
	if !p.need("outer") || !p.need("loop") {
		return
	}
	n := len(p.soup)
	p.soup = append(p.soup, make([]byte, 36)...)
	for k := range 9 {
		if k%3 == 0 && !p.need("vertex") {
			return
		}
		v, ok := p.number()
		if !ok {
			return
		}
		binary.LittleEndian.PutUint32(p.soup[n+4*k:], math.Float32bits(v))
	}
	if p.need("endloop") {
		p.need("endfacet")
	}
}

// space skips white space; a carriage return is as good as a line feed.
func (p *piece) space() {
	for p.pos < p.to && isSpace(p.data[p.pos]) {
		p.pos++
	}
}

func isSpace(c byte) bool { return c == ' ' || c-'\t' <= '\r'-'\t' }

// word takes w, in any case, if it stands next and ends there.
func (p *piece) word(w string) bool {
	end := p.pos + len(w)
	if end > p.to {
		return false
	}
	for i, c := range p.data[p.pos:end] {
		if c|0x20 != w[i] {
			return false
		}
	}
	if end < p.to && !isSpace(p.data[end]) {
		return false
	}
	p.pos = end
	return true
}

// need takes w after white space, or fails.
func (p *piece) need(w string) bool {
	if p.err != nil {
		return false
	}
	p.space()
	if p.word(w) {
		return true
	}
	p.expected(w)
	return false
}

// line takes the rest of the line.
func (p *piece) line() string {
	rest := p.data[p.pos:p.to]
	if i := bytes.IndexAny(rest, "\r\n"); i >= 0 {
		rest = rest[:i]
	}
	p.pos += len(rest)
	return strings.TrimSpace(string(rest))
}

// token returns the next characters up to white space, without taking them.
func (p *piece) token() []byte {
	p.space()
	end := p.pos
	for end < p.to && !isSpace(p.data[end]) {
		end++
	}
	return p.data[p.pos:end]
}

func (p *piece) expected(what string) {
	t := p.token()
	if len(t) == 0 {
		p.fail(p.pos, fmt.Sprintf("the file ends where %s is due: it is cut short", what))
		return
	}
	p.fail(p.pos, fmt.Sprintf("found %q where %s is due", shorten(t), what))
}

func shorten(t []byte) []byte { return t[:min(len(t), 24)] }

func (p *piece) fail(at int, text string) {
	if p.err == nil {
		p.err = &Error{Line: lineOf(p.data, at), Offset: -1, Text: text, Hint: exportAgain}
	}
}

// lineOf counts the lines up to offset at; CR, LF and CR LF each end one.
func lineOf(data []byte, at int) int {
	head := data[:min(at, len(data))]
	return 1 + bytes.Count(head, []byte("\n")) + bytes.Count(head, []byte("\r")) - bytes.Count(head, []byte("\r\n"))
}
