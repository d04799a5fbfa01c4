package adopt

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
)

// seatBoards decides which board sits in which part of which variant: every known profile was laid on the holes
// of every mesh; what fits and what the texts name decide between those that fit alike.
func (r *reader) seatBoards() {
	for _, v := range r.variants {
		v.boards = r.boardsIn(v)
	}
	if len(r.variants) > 0 {
		return
	}
	plain := &variant{}
	plain.boards = r.boardsIn(plain)
	if len(plain.boards) == 0 {
		return
	}
	// a board belongs to a variant, so that a design with a board has one
	b := plain.boards[0]
	plain.name = design.Kebab(b.id)
	if w := strings.Split(b.id, "-"); len(w) == 2 && w[0] != "outline" {
		plain.name = w[1]
	}
	if p := r.profile(b.id); p != nil {
		plain.title = p.Title.S
	}
	plain.by = b.by
	r.variants = []*variant{plain}
}

// boardsIn picks the boards of one variant, each on holes of its own.
func (r *reader) boardsIn(v *variant) []boardUse {
	type option struct {
		p *part
		s *solid
		x *seating
		n int
	}
	var all []option
	for _, p := range r.parts {
		s := p.meshIn(v.name)
		if s == nil && v.name == "" {
			s = p.all
		}
		if s == nil || !p.printable() {
			continue
		}
		for i := range s.seats {
			x := &s.seats[i]
			if n, ok := r.boardScore(x, v); ok {
				all = append(all, option{p, s, x, n})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b option) int {
		return cmp.Or(cmp.Compare(b.n, a.n), cmp.Compare(len(a.x.id), len(b.x.id)), cmp.Compare(a.x.id, b.x.id))
	})
	var out []boardUse
	taken := map[*solid]map[[3]float64]bool{}
	for _, o := range all {
		free := true
		for _, m := range o.x.seat.Mounts {
			if m.Hole != nil && m.Met && taken[o.s][*m.Hole] {
				free = false
			}
		}
		if !free || slices.ContainsFunc(out, func(b boardUse) bool { return b.id == o.x.id }) {
			continue
		}
		if taken[o.s] == nil {
			taken[o.s] = map[[3]float64]bool{}
		}
		for _, m := range o.x.seat.Mounts {
			if m.Hole != nil && m.Met {
				taken[o.s][*m.Hole] = true
			}
		}
		by := origin{fmt.Sprintf("its %d mounts meet holes of %s", len(o.x.seat.Mounts), o.s.file), Likely}
		seat := by
		if where := r.namedBoard(o.x.id); where != "" {
			by = origin{by.from + ", and " + where + " names it", Sure}
		}
		out = append(out, boardUse{id: o.x.id, sitsIn: o.p, seat: o.x, by: by, seatBy: seat})
	}
	return out
}

// boardScore says how much speaks for a board, and whether enough does.
func (r *reader) boardScore(x *seating, v *variant) (int, bool) {
	met := 0
	for _, m := range x.seat.Mounts {
		if m.Met {
			met++
		}
	}
	if met < len(x.seat.Mounts) || met < 3 || x.seat.Pose == nil || x.seat.Residual > 0.3 {
		return 0, false
	}
	n := 10 * met
	named := r.namedBoard(x.id) != ""
	if named {
		n += 100
	}
	if v != nil && r.boardWord(v.name) == x.id {
		n += 60
	}
	if x.ports > 0 {
		n += 40 * x.openPorts / x.ports
	}
	if !x.seat.Inside {
		n += 15
	}
	if x.seat.Residual <= 0.15 {
		n += 5
	}
	_, own := r.own[x.id]
	if own {
		n += 30
	}
	// Four holes of a lid may lie as a board's do by chance: then nothing else speaks for the board.
	return n, named || own || x.ports > 0 && 2*x.openPorts >= x.ports && !x.seat.Inside || x.ports == 0 && !x.seat.Inside && x.seat.Residual <= 0.15
}

// boardPhrases are how texts call a board: its id, and the name of its standard.
func boardPhrases(p *board.Profile) []string {
	out := []string{flat(p.ID.S)}
	for _, s := range []string{p.Designation.Standard.S, p.Title.S} {
		for _, cut := range []string{" Low Cost", " Specification", ",", " (", " board", " module"} {
			s, _, _ = strings.Cut(s, cut)
		}
		if f := flat(s); len(f) >= 6 {
			out = append(out, f)
		}
	}
	return out
}

// flat is a text without anything but letters and digits, lower case.
func flat(s string) string { return strings.Join(splitFlat(s), "") }

func splitFlat(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	})
}

// namedBoard says where a text names a board: "README.md:4"; "" for nowhere.
func (r *reader) namedBoard(id string) string {
	p := r.profile(id)
	if p == nil {
		return ""
	}
	phrases := boardPhrases(p)
	if f, ok := r.own[id]; ok {
		return f
	}
	for _, t := range r.texts {
		if t.kind == licenceFile {
			continue
		}
		for i, l := range t.lines {
			w := splitFlat(l)
			for _, ph := range phrases {
				if namesWord(w, ph) && !r.longerNamed(w, id, ph) {
					return fmt.Sprintf("%s:%d", t.file, i+1)
				}
			}
		}
	}
	return ""
}

// namesWord tells whether consecutive words, written together, are the phrase.
func namesWord(w []string, phrase string) bool {
	for i := range w {
		s := ""
		for j := i; j < len(w) && len(s) < len(phrase); j++ {
			s += w[j]
			if s == phrase {
				return true
			}
		}
	}
	return false
}

// longerNamed tells whether the words name another board whose name begins with this one's.
func (r *reader) longerNamed(w []string, id, phrase string) bool {
	for _, p := range r.profiles {
		if p.ID.S == id || !strings.HasPrefix(p.ID.S, id+"-") {
			continue
		}
		for _, ph := range boardPhrases(p) {
			if ph != phrase && strings.HasPrefix(ph, phrase) && namesWord(w, ph) {
				return true
			}
		}
	}
	return false
}
