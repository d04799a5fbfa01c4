package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"

	"dropwright/bundle/mesh"
)

const (
	maxSolidNames = 100 // kept; more are read but not remembered
	maxNameBytes  = 200 // of one name
)

// asciiPiece is how much text is read as one piece of work.
const asciiPiece = 1 << 20

// decodeASCII reads a text file. Pieces of it, cut behind an "endfacet", are read in parallel and welded
// in order as they come, so that no list of all corners is ever kept. A piece that makes no sense may
// only have been cut badly (a solid can be named "endfacet"), so then the file is read again as a whole,
// which also gives the error its line.
func decodeASCII(data []byte) (*mesh.Mesh, Info, error) {
	m, names, ok, err := decodePieces(data, asciiPiece)
	if err == nil && !ok {
		m, names, err = decodeWhole(data)
	}
	if err != nil {
		return nil, Info{}, err
	}
	if len(m.Triangles) == 0 {
		return nil, Info{}, refuse("the file holds no facets", "check that the part is visible in CAD and "+exportAgain)
	}
	return m, Info{Format: ASCII, Solids: names}, nil
}

// decodeWhole reads the file as one piece.
func decodeWhole(data []byte) (*mesh.Mesh, []string, error) {
	p := piece{data: data, pos: textStart(data), to: len(data)}
	p.run()
	if p.err == nil && (p.first != outside || p.last != outside) {
		p.fail(len(data), "the file ends inside a solid: it is cut short")
	}
	if p.err != nil {
		return nil, nil, p.err
	}
	s := mesh.Soup{Data: p.soup, Stride: 36}
	b := mesh.NewBuilder(s.Len())
	b.Add(s)
	return b.Mesh(), p.names, nil
}

// textStart is where the text begins behind a byte order mark.
func textStart(data []byte) int {
	return len(data) - len(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")))
}

// decodePieces reads the file in pieces of about size bytes. ok is false where a piece made no sense; err
// is a failure to read memory.
func decodePieces(data []byte, size int) (m *mesh.Mesh, names []string, ok bool, err error) {
	count := (len(data) + size - 1) / size
	workers := min(count, runtime.GOMAXPROCS(0))
	done := make([]chan *piece, count)
	for i := range done {
		done[i] = make(chan *piece, 1)
	}
	// A worker takes a buffer before it takes the next piece, so the pieces being read are always the
	// next ones due, and their buffers come back when they are welded.
	buffers := make(chan []byte, 2*workers+1)
	for range cap(buffers) {
		buffers <- nil
	}
	var next atomic.Int64
	var stop atomic.Bool
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			for buffer := range buffers {
				i := int(next.Add(1)) - 1
				if i >= count || stop.Load() {
					return
				}
				p := &piece{data: data, soup: buffer[:0]}
				fault := mesh.Guard(func() error {
					p.pos, p.to = cut(data, i*size), cut(data, (i+1)*size)
					p.run()
					return nil
				})
				if fault != nil {
					p.err = fault
				}
				done[i] <- p
			}
		})
	}
	defer wait.Wait()
	defer close(buffers)
	defer stop.Store(true)

	var b *mesh.Builder
	state, solid := outside, ""
	for i := range count {
		p := <-done[i]
		var fault *mesh.FaultError
		if errors.As(p.err, &fault) {
			return nil, nil, false, fault
		}
		if p.err != nil || p.first != unknown && p.first != state {
			return nil, nil, false, nil
		}
		if p.last != unknown {
			state = p.last
		}
		if p.opened {
			solid = p.solid
		} else if p.last == outside && cutName(solid, p.closed) && p.to == len(data) {
			return nil, nil, false, nil
		}
		names = append(names, p.names[:min(len(p.names), maxSolidNames-len(names))]...)
		s := mesh.Soup{Data: p.soup, Stride: 36}
		if b == nil {
			b = mesh.NewBuilder(s.Len() * count)
			defer b.Close()
		}
		b.Add(s)
		buffers <- p.soup
	}
	if state != outside {
		return nil, nil, false, nil
	}
	return b.Mesh(), names, true, nil
}

// cut moves a place in the text to one between facets: behind the next "endfacet", or to the end.
func cut(data []byte, at int) int {
	if at == 0 {
		return textStart(data)
	}
	for at < len(data) {
		i := bytes.IndexAny(data[at:], "fF")
		if i < 0 {
			break
		}
		at += i
		const before, word = 3, "endfacet"
		if from := at - before; from >= 0 && from+len(word) <= len(data) && bytes.EqualFold(data[from:from+len(word)], []byte(word)) {
			return from + len(word)
		}
		at++
	}
	return len(data)
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
	opened  bool   // whether one was
	closed  string // the name behind the last endsolid
	gaps    [gapCount][]byte
	first   int // what the first word needs the start to be
	last    int // what the end is
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
			p.closed = p.line()
			if p.opened && p.pos >= len(p.data) && cutName(p.solid, p.closed) {
				p.fail(len(p.data), fmt.Sprintf("the file breaks off in the name %q", p.closed))
			}
		case p.word("solid"):
			p.enter(outside, inside, start)
			p.solid, p.opened = p.line(), true
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

// cutName reports whether the name at the end of a file is the beginning of the solid's: the file was
// cut in its last line, and nobody knows what else is missing.
func cutName(solid, end string) bool {
	return end != "" && len(end) < len(solid) && strings.HasPrefix(solid, end)
}

// facet reads what follows the word "facet". The normal is passed over, whatever it is: it is worked out
// anew from the corners, and some writers put "nan" or "-1.#IND" for a facet without area.
func (p *piece) facet() {
	if !p.skipNormal() {
		return
	}
	n := len(p.soup)
	p.soup = append(p.soup, make([]byte, 36)...)
	out := p.soup[n : n+36]
	for k := range 9 {
		if (k == 3 || k == 6) && !p.gap(gapVertex, "vertex") {
			return
		}
		v, ok := p.number()
		if !ok {
			return
		}
		binary.LittleEndian.PutUint32(out[4*k:], math.Float32bits(v))
	}
	p.gap(gapEnd, "endloop", "endfacet")
}

// The words and white space between the numbers of a facet are the same in nearly all facets of a file,
// so the last ones read are remembered and first tried as a whole.
const (
	gapNormal = iota // from "facet" to the normal
	gapOuter         // from the normal's line end to the first corner
	gapVertex        // from one corner to the next
	gapEnd           // behind the last
	gapCount
)

// gap takes the words, with the white space before and behind them.
func (p *piece) gap(kind int, words ...string) bool {
	known := p.gaps[kind]
	if start := p.pos; len(known) > 0 && len(known) <= p.to-start && string(p.data[start:start+len(known)]) == string(known) {
		p.pos += len(known)
		return true
	}
	start := p.pos
	for _, w := range words {
		p.space()
		if !p.word(w) {
			p.expected(w)
			return false
		}
	}
	p.space()
	// Behind the remembered text a new word must begin, so its last character has to be a space.
	if text := p.data[start:p.pos]; isSpace(text[len(text)-1]) {
		p.gaps[kind] = text
	}
	return true
}

// skipNormal goes on to the first coordinate of the first corner.
func (p *piece) skipNormal() bool {
	if !p.gap(gapNormal, "normal") {
		return false
	}
	if known := p.gaps[gapOuter]; len(known) > 0 {
		line := p.data[p.pos:p.to]
		if i := bytes.IndexByte(line, known[0]); i >= 0 && len(known) <= len(line)-i && string(line[i:i+len(known)]) == string(known) {
			p.pos += i + len(known)
			return true
		}
	}
	for range 3 {
		t := p.token()
		if len(t) == 0 || bytes.EqualFold(t, []byte("outer")) {
			p.expected("a number of the normal")
			return false
		}
		p.pos += len(t)
	}
	start := p.pos
	if !p.gap(gapOuter, "outer", "loop", "vertex") {
		return false
	}
	if c := p.data[start]; c != '\n' && c != '\r' {
		p.gaps[gapOuter] = nil // the numbers of the normal would be taken for its line end
	}
	return true
}

// space skips white space; a carriage return is as good as a line feed.
func (p *piece) space() {
	data, at := p.data[:p.to], p.pos
	for at < len(data) && isSpace(data[at]) {
		at++
	}
	p.pos = at
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
	data, end := p.data[:p.to], p.pos
	for end < len(data) && !isSpace(data[end]) {
		end++
	}
	return data[p.pos:end]
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
