package adopt

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
)

// fastening is one fastener as a list names it.
type fastening struct {
	m       mention
	count   int
	counted bool
	only    []string // variants; nil: all
	text    string
	list    string // which list it stands in
	at      finding.Place
	from    origin
	e       *entry
	left    int // not yet given to a joint
}

// what is the item in words: "M3x8 socket".
func (f *fastening) what() string { return f.m.what() }

func (m mention) what() string {
	switch m.kind {
	case hardware.KindScrew:
		if m.length == 0 {
			return string(m.size) + " screw"
		}
		return string(m.size) + "x" + figureText(m.length)
	case hardware.KindInsert:
		return string(m.size) + " insert"
	case hardware.KindStandoff:
		return string(m.size) + "x" + figureText(m.length) + " standoff"
	}
	return string(m.size) + " " + string(m.kind)
}

// listItems takes the fasteners out of the lists. What two files list is counted once: the list with the most
// fasteners holds, and where the two differ is said.
func (r *reader) listItems() {
	var all []*fastening
	for _, e := range r.entries {
		if e.section == stepSection && !e.tabled {
			continue
		}
		if e.taken && (e.printed || e.section == printSection) {
			continue
		}
		text := strings.TrimSpace(e.name + " " + e.size)
		found := fastenersIn(text)
		if len(found) == 0 {
			text = e.text
			found = fastenersIn(text)
		}
		for k, m := range found {
			if len(r.filesIn(e.text)) > 0 && !e.tabled || m.kind == hardware.KindScrew && m.length == 0 && (m.from > 24 || !e.counted) {
				continue
			}
			f := &fastening{m: m, text: e.text, at: e.at, e: e, list: e.at.File, from: origin{where(e.at), Likely}}
			if e.tabled {
				f.from.sure = Sure
			}
			if m.kind == hardware.KindInsert && (m.outer == 0 || m.length == 0) { // the rest of the line may say
				for _, x := range fastenersIn(e.text) {
					if x.kind == m.kind && x.size == m.size {
						f.m.outer, f.m.length = max(m.outer, x.outer), max(m.length, x.length)
					}
				}
			}
			switch {
			case m.counted && (!e.counted || len(found) > 1):
				f.count, f.counted = int(m.count), true
			case e.counted && e.count.unit == "":
				f.count, f.counted = int(e.count.n), true
				if m.kind == hardware.KindWasher && len(found) > 1 && k > 0 && m.counted {
					f.count = int(m.count)
				}
			}
			if f.counted && (f.count <= 0 || f.count > 5000) {
				f.counted, f.count = false, 0
			}
			f.only = r.onlyOf(e)
			e.taken = true
			if len(e.per) > 0 {
				for _, p := range e.per {
					if v := r.variantOf(p.label); v != "" && p.n > 0 {
						g := *f
						g.only, g.count, g.counted = []string{v}, int(p.n), true
						all = append(all, &g)
					}
				}
				if slices.ContainsFunc(e.per, func(p variantCount) bool { return r.variantOf(p.label) != "" }) {
					continue
				}
				if !f.counted && len(e.per) == 1 {
					f.count, f.counted = int(e.per[0].n), true
				}
			}
			all = append(all, f)
		}
	}
	if r.items = r.oneList(all); len(r.items) > maxItems {
		r.list.notes = append(r.list.notes, fmt.Sprintf("the lists hold %d fasteners; those after the first %d were left out", len(r.items), maxItems))
		r.items = r.items[:maxItems]
	}
	for _, f := range r.items {
		f.left = f.count
	}
}

// same reports whether two items are the same thing to a shop.
func (f *fastening) same(g *fastening) bool {
	return f.m.kind == g.m.kind && f.m.size == g.m.size && f.m.length == g.m.length && (f.m.head == g.m.head || f.m.head == "" || g.m.head == "")
}

// oneList drops from the lists of other files what the fullest one has.
func (r *reader) oneList(all []*fastening) []*fastening {
	n := map[string]int{}
	for _, f := range all {
		n[f.list] += 1
		if f.e.tabled {
			n[f.list] += 1
		}
	}
	best := ""
	for _, f := range all {
		if best == "" || n[f.list] > n[best] {
			best = f.list
		}
	}
	sum := func(list string, g *fastening) (total int, first *fastening) {
		for _, f := range all {
			if f.list == list && f.same(g) {
				total += f.count
				if first == nil {
					first = f
				}
			}
		}
		return
	}
	var out []*fastening
	told := map[string]bool{}
	for _, f := range all {
		if f.list == best {
			out = append(out, f)
			continue
		}
		total, first := sum(best, f)
		if first == nil {
			out = append(out, f) // only this list has it
			continue
		}
		other, _ := sum(f.list, f)
		key := f.list + f.what()
		if other != total && f.counted && first.counted && !told[key] && len(r.variants) < 2 {
			told[key] = true
			first.from.sure = Guess
			r.say("count-short", f.at, fmt.Sprintf("%s: %s lists %d, %s lists %d", f.what(), where(f.at), other, where(first.at), total), "mend the list that is wrong; the draft follows "+first.at.File)
		} else if other == total {
			first.from.from += " and " + where(f.at)
		}
	}
	return out
}

// onlyOf are the variants that a line is for: those it names, when it does not name them all.
func (r *reader) onlyOf(e *entry) []string {
	if len(r.variants) < 2 {
		return nil
	}
	var out []string
	for _, v := range r.variants {
		if r.namesVariant(e.text, v) || r.namesVariant(e.heading, v) {
			out = append(out, v.name)
		}
	}
	if len(out) == len(r.variants) {
		return nil
	}
	return out
}

// namesVariant tells whether a text names a variant: by its word, or by its board.
func (r *reader) namesVariant(s string, v *variant) bool {
	w := splitFlat(s)
	for _, x := range append([]string{v.name}, v.words...) {
		if x != "" && (len(x) > 1) && namesWord(w, flat(x)) {
			return true
		}
	}
	for _, b := range v.boards {
		if p := r.profile(b.id); p != nil {
			for _, ph := range append(boardPhrases(p), boardAliases(p)...) {
				if namesWord(w, ph) && !r.longerNamed(w, b.id, ph) {
					return true
				}
			}
		}
	}
	return false
}

// variantOf is the variant that the head of a column names.
func (r *reader) variantOf(label string) string {
	for _, v := range r.variants {
		if r.namesVariant(label, v) {
			return v.name
		}
	}
	return ""
}

// inVariant reports whether the item is for a variant.
func (f *fastening) inVariant(v string) bool {
	return f.only == nil || slices.Contains(f.only, v)
}
