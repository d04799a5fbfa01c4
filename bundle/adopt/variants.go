package adopt

import (
	"cmp"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/board"
)

// variant is a buildable version of the design.
type variant struct {
	name   string
	title  string
	words  []string // how texts call it
	by     origin
	boards []boardUse
}

// boardUse is one board of a variant.
type boardUse struct {
	id     string
	sitsIn *part
	seat   *seating
	by     origin
	seatBy origin
}

// placeWords say where in a thing a part is, or count parts: parts that differ in them are two parts.
var placeWords = map[string]bool{"top": true, "bottom": true, "upper": true, "lower": true, "front": true, "back": true, "rear": true, "inner": true, "outer": true, "inside": true, "outside": true, "lid": true, "base": true, "cover": true,
	"body": true, "box": true, "side": true, "end": true, "middle": true, "center": true, "centre": true, "left": true, "right": true, "male": true, "female": true, "half": true, "north": true, "south": true, "in": true, "out": true, "cap": true, "mount": true, "holder": true, "clip": true, "frame": true, "arm": true, "foot": true, "panel": true, "door": true, "handle": true, "button": true, "plate": true, "bracket": true}

// sizeWords are what versions of a thing differ in.
var sizeWords = map[string]bool{"small": true, "large": true, "big": true, "tall": true, "short": true, "long": true, "mini": true, "maxi": true, "wide": true, "narrow": true, "slim": true, "deep": true, "shallow": true, "standard": true, "std": true, "lite": true, "plus": true, "xl": true, "low": true, "high": true, "thin": true, "thick": true}

// differing is a way in which the names of two meshes differ.
type differing struct {
	base string
	word string
	c    *candidate
}

// tellVariants finds the words in which the names of several meshes differ and that stand for versions: boards
// that sit in them, sizes, words that occur for several parts, folders.
func (r *reader) tellVariants(cands []*candidate) {
	var live []*candidate
	for _, c := range cands {
		if len(c.inside) == 0 && c.name.role == "" && c.alias == nil {
			live = append(live, c)
		}
	}
	sets := map[string]map[string]*candidate{} // base -> word -> mesh
	put := func(d differing) {
		if sets[d.base] == nil {
			sets[d.base] = map[string]*candidate{}
		}
		if sets[d.base][d.word] == nil {
			sets[d.base][d.word] = d.c
		}
	}
	for i, a := range live {
		for _, b := range live[i+1:] {
			if da, db, ok := differ(a, b); ok {
				put(da)
				put(db)
			}
		}
	}
	var bases []string
	for b := range sets {
		bases = append(bases, b)
	}
	slices.Sort(bases)
	score := map[string]int{}
	for _, b := range bases {
		set := sets[b]
		var ws []string
		for w := range set {
			ws = append(ws, w)
		}
		boards := map[string]string{}
		for w, c := range set {
			for _, s := range c.seats {
				if boards[s.id] == "" {
					boards[s.id] = w
				}
			}
		}
		for _, w := range ws {
			n := 0
			if r.boardWord(w) != "" {
				n += 3
			}
			if len(set[w].seats) > 0 && len(boards) > 1 {
				n += 3
			}
			if sizeWords[w] || strings.HasSuffix(w, "mm") || isDigits(w) && len(w) >= 2 {
				n++
			}
			if r.calledVersion(w) {
				n += 2
			}
			if placeWords[w] || isDigits(w) && len(w) < 2 || len(w) == 1 {
				n -= 5
			}
			for _, o := range bases {
				if _, also := sets[o][w]; also && o != b && r.sharesTwo(set, sets[o]) {
					n += 2
					break
				}
			}
			score[b+"\x00"+w] = n
		}
	}
	r.chooseVariants(bases, sets, score)
	if len(r.variants) == 1 { // one word is no choice
		r.variants = nil
	}
}

// chooseVariants takes the sets of words that stand for versions, the likeliest first. A name of two words that
// both vary could be read either way ("case-ce", "window-ce"): what is a version's word once is no part's.
func (r *reader) chooseVariants(bases []string, sets map[string]map[string]*candidate, score map[string]int) {
	type option struct {
		base  string
		words []string
		sum   int
	}
	var all []option
	for _, b := range bases {
		o := option{base: b}
		bad := false
		for w := range sets[b] {
			n := score[b+"\x00"+w]
			o.sum = max(o.sum, n)
			bad = bad || n < 0
			o.words = append(o.words, w)
		}
		if o.sum < 2 || bad {
			continue
		}
		slices.SortFunc(o.words, func(x, y string) int { return cmp.Compare(sets[b][x].file, sets[b][y].file) })
		all = append(all, o)
	}
	slices.SortStableFunc(all, func(a, b option) int { return cmp.Or(cmp.Compare(b.sum, a.sum), cmp.Compare(a.base, b.base)) })
	chosen, parts := map[string]bool{}, map[string]bool{}
	var order []string
	for _, o := range all {
		base := strings.Split(o.base, "-")
		if slices.ContainsFunc(base, func(w string) bool { return chosen[w] }) || slices.ContainsFunc(o.words, func(w string) bool { return parts[w] }) {
			continue
		}
		if len(order) > 0 && !slices.ContainsFunc(o.words, func(w string) bool { return chosen[w] }) {
			continue // a second way to vary: a manifest has one list of variants
		}
		for _, w := range base {
			parts[w] = true
		}
		for _, w := range o.words {
			if !chosen[w] {
				chosen[w] = true
				order = append(order, w)
			}
		}
	}
	for _, w := range order {
		v := &variant{name: w, words: []string{w}, by: origin{"the names of meshes", Likely}}
		if w == "" {
			v.name, v.words = "standard", nil
		}
		if n := kebabWord(v.name); n != v.name {
			v.name = n
		}
		r.variants = append(r.variants, v)
	}
}

func kebabWord(s string) string {
	return strings.Trim(strings.Join(splitWords(s), "-"), "-")
}

// sharesTwo tells whether two sets of words have two in common.
func (r *reader) sharesTwo(a, b map[string]*candidate) bool {
	n := 0
	for w := range a {
		if b[w] != nil {
			n++
		}
	}
	return n >= 2
}

// differ tells how two meshes differ in name: by a word or two between what they share, or by folder.
func differ(a, b *candidate) (da, db differing, ok bool) {
	x, y := a.name.tokens, b.name.tokens
	if a.name.side != b.name.side {
		return
	}
	if slices.Equal(x, y) {
		da, db = differing{a.key, lastFolder(a.file, b.file), a}, differing{b.key, lastFolder(b.file, a.file), b}
		return da, db, da.word != db.word && da.word != "" && db.word != ""
	}
	p, q := overlap(x, y)
	wa, wb := x[p:len(x)-q], y[p:len(y)-q]
	if p+q < 1 || len(wa) > 2 || len(wb) > 2 || p == 0 && len(wa)+len(wb) > 2 {
		return
	}
	if len(wa) == 0 || len(wb) == 0 {
		return // "case" and "case-clip" are two things
	}
	base := strings.Join(slices.Concat(x[:p], x[len(x)-q:]), "-") + a.name.side
	return differing{base, strings.Join(wa, "-"), a}, differing{base, strings.Join(wb, "-"), b}, true
}

// lastFolder is the folder in which a file's path first differs from another's.
func lastFolder(a, b string) string {
	x, y := strings.Split(path.Dir(a), "/"), strings.Split(path.Dir(b), "/")
	for i := range x {
		if i >= len(y) || x[i] != y[i] {
			return kebabWord(x[i])
		}
	}
	return ""
}

// boardWord is the profile that a word of a name stands for: "ce", "pc104", "96boards-ce".
func (r *reader) boardWord(w string) string {
	flat := strings.ReplaceAll(w, "-", "")
	best := ""
	for _, p := range r.profiles {
		for _, a := range boardAliases(p) {
			if flat == a {
				if best != "" && best != p.ID.S {
					if len(best) < len(p.ID.S) {
						continue // the plainer of two: "ce" before "ce extended"
					}
				}
				best = p.ID.S
			}
		}
	}
	return best
}

// boardAliases are the words that stand for a board in names: its id, and of an id of two words the last, where
// no other profile ends so.
func boardAliases(p *board.Profile) []string {
	id := strings.ToLower(p.ID.S)
	out := []string{strings.ReplaceAll(id, "-", "")}
	words := strings.Split(id, "-")
	if n := len(words); n == 2 && len(words[1]) >= 2 && words[0] != "outline" {
		out = append(out, words[1])
	}
	return out
}

// calledVersion tells whether a text speaks of a word as of a version.
func (r *reader) calledVersion(w string) bool {
	if w == "" {
		return false
	}
	for _, d := range r.docs {
		for _, b := range d.blocks {
			lower := strings.ToLower(b.text)
			if !strings.Contains(lower, "version") && !strings.Contains(lower, "variant") && !strings.Contains(lower, "option") && !strings.Contains(lower, "either") && !strings.Contains(lower, "only") {
				continue
			}
			if slices.Contains(splitWords(b.text), w) {
				return true
			}
		}
	}
	return false
}

// withoutVariant takes the word of a variant out of a mesh's name, and says which it is.
func (r *reader) withoutVariant(c *candidate) (tokens []string, v string) {
	tokens = c.name.tokens
	if len(r.variants) == 0 {
		return tokens, ""
	}
	for _, x := range r.variants {
		w := strings.Split(x.name, "-")
		for i := 0; i+len(w) <= len(tokens) && len(tokens) > len(w); i++ {
			if slices.Equal(tokens[i:i+len(w)], w) {
				return slices.Concat(tokens[:i], tokens[i+len(w):]), x.name
			}
		}
	}
	for _, d := range strings.Split(path.Dir(c.file), "/") {
		for _, x := range r.variants {
			if kebabWord(d) == x.name {
				return tokens, x.name
			}
		}
	}
	return tokens, ""
}

// variantNames are the names of the variants, or one empty name for a design without.
func (r *reader) variantNames() []string {
	if len(r.variants) == 0 {
		return []string{""}
	}
	var out []string
	for _, v := range r.variants {
		out = append(out, v.name)
	}
	return out
}
