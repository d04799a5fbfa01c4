package sheet

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"codeberg.org/go-fonts/dejavu/dejavusans"
	"golang.org/x/image/font/sfnt"
)

// covered tells whether the PDF's font has a letter. The styles of DejaVu Sans cover the same alphabets; what
// only the plain one has is symbols, which we set plain.
var covered = sync.OnceValue(func() func(r rune) bool {
	f, err := sfnt.Parse(dejavusans.TTF)
	if err != nil {
		return func(r rune) bool { return r < 0x7f } // the font is embedded: this does not happen
	}
	var lock sync.Mutex
	var b sfnt.Buffer
	known := map[rune]bool{}
	return func(r rune) bool {
		lock.Lock()
		defer lock.Unlock()
		ok, seen := known[r]
		if !seen {
			i, err := f.GlyphIndex(&b, r)
			ok = err == nil && i != 0 && r <= 0xffff // past the basic plane the PDF writer fails altogether
			known[r] = ok
		}
		return ok
	}
})

// MissingGlyphs lists the letters of the sheet that the PDF's font does not have, each once, by code point.
// The PDF prints a question mark in their place and says so at its end; HTML and text are not concerned.
func (s *Sheet) MissingGlyphs() []rune {
	var out []rune
	s.eachText(func(t string) {
		for _, r := range t {
			if !printable(r) && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	})
	slices.Sort(out)
	return out
}

// printable tells whether a letter can be set as it is, or is one that fit replaces without loss.
func printable(r rune) bool {
	return covered()(r) || strings.ContainsRune(silent, r)
}

// silent are characters that take no room and have no glyph: soft hyphen, joiners, direction marks, the byte
// order mark, variation selectors for text and picture style.
const silent = "\t\n\r\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\ufe0e\ufe0f"

// fit makes a text that the PDF's font can set.
func fit(t string) string {
	clean := true
	for _, r := range t {
		if !covered()(r) {
			clean = false
			break
		}
	}
	if clean {
		return t
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case strings.ContainsRune(silent, r):
			return -1
		case covered()(r):
			return r
		}
		return '?'
	}, t)
}

// codePoints writes letters as U+1F600, since they cannot be shown.
func codePoints(rs []rune) string {
	var words []string
	for _, r := range rs {
		words = append(words, fmt.Sprintf("U+%04X", r))
	}
	return strings.Join(words, ", ")
}

// eachText calls f for every text that the PDF prints.
func (s *Sheet) eachText(f func(string)) {
	for _, t := range []string{s.Title, s.Summary, s.VariantTitle, s.Maker, s.Design} {
		f(t)
	}
	eachBlockText(s.Head, f)
	for _, x := range s.Sections {
		f(x.Title)
		eachBlockText(x.Blocks, f)
	}
}

func eachBlockText(blocks []Block, f func(string)) {
	eachSpan(blocks, func(s *Span) { f(s.Text) })
	for _, b := range blocks {
		f(b.Title)
		f(b.Text)
		for _, x := range b.Items {
			eachBlockText(x, f)
		}
		eachBlockText(b.Blocks, f)
		if b.Table != nil {
			f(b.Table.Caption)
			for _, c := range b.Table.Columns {
				f(c.Title)
			}
			for _, r := range b.Table.Rows {
				for _, c := range r.Cells {
					f(c.Note)
				}
			}
		}
		for _, x := range b.Pictures {
			f(x.Caption)
		}
		if b.Drawing != nil {
			for _, x := range b.Drawing.Shapes {
				f(x.Text)
			}
		}
		for _, x := range b.Cautions {
			f(x.Text)
			f(x.Where)
		}
		for _, x := range b.Pairs {
			f(x.Term)
		}
	}
}
