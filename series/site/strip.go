package site

import (
	"fmt"
	"html/template"
	"strconv"
)

// Slot is one week of a calendar strip.
type Slot struct {
	Number int
	Name   string // what has the week; "" is free
	Day    string // of its first drop, short: "8 Jan"
	Done   int    // steps that are behind it
	Out    bool   // it went out for the first time
	Public bool   // it is out for everybody
	Late   bool
	Void   bool // withdrawn
	Now    bool
}

// Strip draws weeks in rows of thirteen, a quarter of a year each. A slot fills from below as its design gets on, of
// steps in all; a filled square is out early, with a bar across the foot for everybody; lining says late.
func Strip(id, title, says string, steps int, slots []Slot) template.HTML {
	const pitch, high, gap, top = 50.0, 44.0, 34.0, 18.0
	per := min(13, max(1, len(slots)))
	rows := (len(slots) + per - 1) / per
	s := &svg{w: pitch*float64(per) + 2, h: float64(rows) * (top + high + gap)}
	for i, w := range slots {
		x, y := 1+pitch*float64(i%per), float64(i/per)*(top+high+gap)+top
		class := "small"
		if w.Now {
			class = "now"
			s.line(x+3, y-3, x+pitch-9, y-3, "limit")
		}
		s.text(x+(pitch-6)/2, y-6, "middle", class, strconv.Itoa(w.Number))
		slot(s, id, x, y, pitch-6, high, w, steps)
		s.text(x+(pitch-6)/2, y+high+13, "middle", "small", w.Day)
	}
	return s.done(id, title, says)
}

// slot draws one week's square.
func slot(s *svg, id string, x, y, w, h float64, k Slot, steps int) {
	switch {
	case k.Name == "":
		s.rect(x, y, w, h, "free")
		return
	case k.Out || k.Public:
		s.rect(x, y, w, h, "full")
		if !k.Public { // early only: the foot is open
			s.rect(x+4, y+h-11, w-8, 7, "gap")
		}
	default:
		part := float64(min(k.Done, steps)) / float64(max(1, steps)) * h
		s.rect(x, y+h-part, w, part, "bar")
		if k.Late { // what is finished may be late too
			s.rect(x, y, w, max(h-part, h/3), "gap")
			s.hatched(id, x, y, w, max(h-part, h/3))
		}
	}
	s.rect(x, y, w, h, "slot")
	if k.Void {
		s.line(x, y, x+w, y+h, "strike")
		s.line(x, y+h, x+w, y, "strike")
	}
}

// Mark draws one slot by itself, for the key of a strip.
func Mark(id string, k Slot, steps int) template.HTML {
	s := &svg{w: 26, h: 26}
	slot(s, id, 1, 1, 24, 24, k, steps)
	return template.HTML(fmt.Sprintf(`<svg class="drawing mark" width="26" height="26" viewBox="0 0 26 26" aria-hidden="true" focusable="false">%s%s</svg>`, hatch(id), s.b.String()))
}
