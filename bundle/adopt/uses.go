package adopt

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

var (
	screwsWord = lazily(`(?i)\b(?:(?:the|all|these)\s+)*(\d{1,3}\b|(?:` + numberWords + `|both)\b)?\s*(?:of the\s+)?((?:[\w.-]+\s+){0,3}?)(screws?|bolts?|inserts?|nuts?)\b`)
	eachShape  = lazily(`(?i)^[^.;,]{0,24}\b(?:each|apiece|per \w+)\b`)
	forEach    = lazily(`(?i)\b(?:for each|on each|to each|each of|every|in each)\b`)
	timesWord  = lazily(`(?i)\b(?:do (?:this|it|all this)|repeat(?: this)?|build|make|this)\s+(twice|two|three|four|five|six|\d)\s*(?:times|x)?\b|\b(?:done|made|built)\s+(twice|two|three|four|five|six|\d)\s*times\b|\((twice|three|four|five|six|\d)\s*(?:times|x)\)|\b[x×](\d)\b`)
	toolsIn    = lazily(`(?i)\b(?:\d(?:[.,]\d)? ?(?:mm )?hex key|hex key(?: \d(?:[.,]\d)?)?|allen key|soldering iron|screwdriver(?: PH\d)?|PH\d screwdriver|pliers|crimping pliers|wire strippers?|knife|file|spanner|heat gun|tweezers)\b`)
)

// count works out what each step uses up, as far as its text says.
func (r *reader) count() {
	used := map[string]float64{}
	var named []naming
	left := func(f *fastener) float64 { return float64(f.total()) - used[f.name] }
	for _, s := range r.assembly {
		text := s.title + ". " + s.text
		s.times = timesOf(s.title)
		w := textWords(text)
		names := map[string]int{}
		for _, p := range r.parts {
			if i := findWords(w, p.stemmed()); i >= 0 && p.printable() {
				names[p.name] = i + 1
			}
		}
		boardAt := -1
		for i, x := range w {
			if x == "board" || x == "pcb" || x == "computer" || x == "sbc" {
				boardAt = i
				break
			}
		}
		if boardAt >= 0 || r.namesAnyBoard(text) {
			names[design.Board] = boardAt + 2
		}
		for _, b := range r.bought {
			if r.namesThing(w, b) {
				names[b.name] = 1
			}
		}
		affinity := func(f *fastener) int {
			n := 0
			for _, t := range f.through {
				if names[t] > 0 {
					n += 2
				}
			}
			if names[f.into] > 0 {
				n++
			}
			return n
		}
		pick := func(ok func(*fastener) bool) *fastener {
			var best *fastener
			most := -1.0
			for _, f := range r.fastened {
				if !ok(f) || s.only != nil && f.only != nil && !overlapping(s.only, f.only) {
					continue
				}
				sc := float64(affinity(f)) * 10
				if left(f) > 0 {
					sc += 5
				}
				if sc > most {
					best, most = f, sc
				}
			}
			return best
		}
		spans := [][2]int{}
		for _, m := range fastenersIn(text) {
			spans = append(spans, [2]int{m.from, m.to + 30})
			switch m.kind {
			case hardware.KindScrew:
				f := pick(func(f *fastener) bool { return f.hasScrew(m) })
				if f == nil {
					continue
				}
				if m.counted && (eachShape.MatchString(text[m.to:min(len(text), m.to+40)]) || forEach.MatchString(text[sentenceFrom(text, m.from):m.from])) {
					m.counted = false // "one M4x16 each": as many as there are things
				}
				r.useFastener(s, f, m.count*float64(s.times), m.counted, used, f.name, m)
			case hardware.KindInsert:
				if f := pick(func(f *fastener) bool { return f.insert != nil && f.size() == m.size && s.use(f.name+".insert") == nil }); f != nil {
					r.useExtra(s, f, "insert", m)
				}
			case hardware.KindNut:
				if f := pick(func(f *fastener) bool { return f.nut != "" && f.size() == m.size && s.use(f.name+".nut") == nil }); f != nil {
					r.useExtra(s, f, "nut", m)
				}
			}
		}
		for _, m := range screwsWord.FindAllStringSubmatchIndex(text, 20) {
			if slices.ContainsFunc(spans, func(sp [2]int) bool { return m[6] >= sp[0]-12 && m[6] <= sp[1] }) || threadToken.MatchString(text[m[0]:m[1]]) {
				continue
			}
			n, counted := 0.0, false
			if m[2] >= 0 {
				n, counted = number(text[m[2]:m[3]])
				if strings.EqualFold(text[m[2]:m[3]], "both") {
					n, counted = 2, true
				}
			}
			kind := strings.ToLower(text[m[6]:m[7]])
			if m[2] < 0 && !strings.HasSuffix(kind, "s") {
				continue // "screw it on": a verb
			}
			x := mention{count: n, counted: counted}
			switch {
			case strings.HasPrefix(kind, "insert"):
				if f := pick(func(f *fastener) bool {
					return f.insert != nil && s.use(f.name+".insert") == nil && s.use(f.name) == nil && used[f.name+".insert"] == 0
				}); f != nil {
					r.useExtra(s, f, "insert", x)
					used[f.name+".insert"]++
				}
			case strings.HasPrefix(kind, "nut"):
				if f := pick(func(f *fastener) bool {
					return f.nut != "" && s.use(f.name+".nut") == nil && s.use(f.name) == nil && used[f.name+".nut"] == 0
				}); f != nil {
					r.useExtra(s, f, "nut", x)
					used[f.name+".nut"]++
				}
			default:
				f := pick(func(f *fastener) bool { return affinity(f) > 0 && left(f) > 0 && s.use(f.name) == nil })
				if f != nil && (!counted || n == left(f)) {
					r.useFastener(s, f, n, counted, used, f.name, x)
				}
			}
		}
		named = append(named, naming{s, text, w, names})
		for _, t := range toolsIn.FindAllString(text, 6) {
			if t = strings.ToLower(t); !slices.Contains(s.tools, t) {
				s.tools = append(s.tools, t)
			}
		}
	}
	r.useThings(named)
	for _, s := range r.assembly {
		s.perTime()
	}
}

// namesThing tells whether words name a bought thing: by its whole name, or by its first or last word where that is
// no other thing's and says something.
func (r *reader) namesThing(w []string, b *purchase) bool {
	t := stems(splitWords(b.name))
	if findWords(w, t) >= 0 {
		return true
	}
	for _, x := range []string{t[len(t)-1], t[0]} {
		if generic[x] || len(x) < 3 || !slices.Contains(w, x) {
			continue
		}
		shared := r.partNamed(x) != nil
		for _, o := range r.bought {
			shared = shared || o != b && slices.Contains(stems(splitWords(o.name)), x)
		}
		if !shared {
			return true
		}
	}
	return false
}

// sentenceFrom is where the sentence that holds a byte of a text begins.
func sentenceFrom(text string, at int) int {
	from := 0
	for _, m := range sentenceEnd.FindAllStringIndex(text[:at], -1) {
		from = m[1]
	}
	return from
}

// naming is what one step names.
type naming struct {
	s     *step
	text  string
	words []string
	names map[string]int
}

// timesOf is how often a step is done, by its title: "Nozzles (do this three times)".
func timesOf(title string) int {
	m := timesWord.FindStringSubmatch(title)
	for _, g := range m {
		if strings.EqualFold(g, "twice") {
			return 2
		}
		if v, ok := number(g); ok && v >= 2 && v <= 50 {
			return int(v)
		}
	}
	return 1
}

// perTime turns what a repeated step uses in all into what it uses each time; where that is no whole number the
// step is written as done once.
func (s *step) perTime() {
	if s.times < 2 {
		return
	}
	for _, u := range s.uses {
		if q := u.n / float64(s.times); q != float64(int(q)) {
			s.times = 1
			return
		}
	}
	for i := range s.uses {
		s.uses[i].n /= float64(s.times)
	}
}

var generic = map[string]bool{"lead": true, "cable": true, "screw": true, "wire": true, "part": true, "m": true, "black": true, "white": true, "red": true, "two": true, "small": true, "plastic": true, "steel": true, "usb": true, "brass": true, "light": true, "board": true, "block": true, "heat": true, "cover": true, "set": true}

func overlapping(a, b []string) bool {
	return slices.ContainsFunc(a, func(s string) bool { return slices.Contains(b, s) })
}

func (r *reader) namesAnyBoard(s string) bool {
	w := splitFlat(s)
	for _, v := range r.variants {
		for _, b := range v.boards {
			if p := r.profile(b.id); p != nil {
				for _, ph := range boardPhrases(p) {
					if namesWord(w, ph) {
						return true
					}
				}
			}
		}
	}
	return false
}

func (f *fastener) hasScrew(m mention) bool {
	for _, s := range f.screws {
		if s.m.size == m.size && (m.length == 0 || s.m.length == m.length) {
			return true
		}
	}
	return false
}

func (r *reader) useFastener(s *step, f *fastener, n float64, counted bool, used map[string]float64, name string, m mention) {
	if !counted || n <= 0 {
		if n = float64(f.total()) - used[f.name]; n <= 0 {
			return
		}
	}
	// One line of a list may be two joints: what a step uses beyond the first is the other's.
	rest := n - max(0, float64(f.total())-used[f.name])
	if rest > 0 && counted {
		for _, g := range r.fastened {
			if rest <= 0 || g == f || !g.hasScrew(m) || g.item != f.item || f.item == nil {
				continue
			}
			if room := float64(g.total()) - used[g.name]; room > 0 {
				take := min(room, rest)
				s.add(g.name, take, true, false)
				used[g.name] += take
				n -= take
				rest -= take
			}
		}
	}
	if n > 0 {
		s.add(name, n, counted, false)
		used[f.name] += n
	}
}

func (r *reader) useExtra(s *step, f *fastener, suffix string, m mention) {
	n := m.count
	if !m.counted || n <= 0 {
		n = float64(f.total())
	}
	s.add(f.name+"."+suffix, n, m.counted, false)
}

// useThings gives parts, boards and bought things to the steps that name them: to the first, but to one that
// screws the thing down rather than to one that mentions it before. A step that says how many takes so many.
func (r *reader) useThings(named []naming) {
	used := map[string]float64{}
	screws := map[string][]string{} // what a thing is held by
	for _, f := range r.fastened {
		for _, t := range append(slices.Clone(f.through), f.into) {
			screws[t] = append(screws[t], f.name)
		}
	}
	holds := func(n naming, name string) bool {
		return slices.ContainsFunc(screws[name], func(f string) bool {
			return n.s.use(f) != nil || n.s.use(f+".insert") != nil || n.s.use(f+".nut") != nil
		})
	}
	later := func(i int, name string) bool {
		return slices.ContainsFunc(named[i+1:], func(n naming) bool { return n.names[name] > 0 && holds(n, name) })
	}
	for i, n := range named {
		var list []string
		for name := range n.names {
			list = append(list, name)
		}
		slices.SortFunc(list, func(a, b string) int { return cmp.Or(cmp.Compare(n.names[a], n.names[b]), cmp.Compare(a, b)) })
		for _, name := range list {
			if len(screws[name]) > 0 && !holds(n, name) && later(i, name) {
				continue // "until the lid is on"
			}
			if name == design.Board {
				boards := r.boardNames()
				for _, b := range boards {
					if used[b] == 0 && (len(boards) == 1 || findWords(n.words, stems(splitWords(b))) >= 0 || r.boardSaid(n.words, b)) {
						n.s.add(b, 1, false, false)
						used[b] = 1
					}
				}
				continue
			}
			if p := r.part(name); p != nil {
				if used[name] > 0 {
					continue
				}
				used[name] = 1
				if p.copies > 0 {
					n.s.add(name, float64(p.copies), false, false)
				}
				if p.mirrored > 0 {
					n.s.add(name+".mirrored", float64(p.mirrored), false, false)
				}
				continue
			}
			for _, b := range r.bought {
				if b.name != name || b.supply || used[name] >= b.count {
					continue
				}
				q := b.count - used[name]
				said, ok := countedThing(n.text, b.name)
				if ok {
					q = min(q, said)
				} else if used[name] > 0 {
					continue // named again
				}
				n.s.add(name, q, ok, false)
				used[name] += q
			}
		}
	}
}

// countedThing is how many of a thing a text speaks of: "three magnets", "the last 2 disc magnets".
func countedThing(text, name string) (float64, bool) {
	t := strings.Split(name, "-")
	last := t[len(t)-1]
	shape, err := regexp.Compile(`(?i)\b(\d{1,3}|` + numberWords + `)\s+(?:x\s+)?(?:[\w-]+\s+){0,2}?` + regexp.QuoteMeta(last) + `s?\b`)
	if err != nil {
		return 0, false
	}
	m := shape.FindStringSubmatch(text)
	if m == nil {
		return 0, false
	}
	v, ok := number(m[1])
	return v, ok && v > 0
}

func (r *reader) boardSaid(w []string, name string) bool {
	for _, x := range strings.Split(name, "-") {
		if len(x) > 2 && slices.Contains(w, x) {
			return true
		}
	}
	return false
}

// boardNames are how steps call the boards of all variants.
func (r *reader) boardNames() []string {
	var out []string
	for _, v := range r.variants {
		for i := range v.boards {
			if n := boardName(v.boards, i); !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

func (r *reader) part(name string) *part {
	for _, p := range r.parts {
		if p.name == name {
			return p
		}
	}
	return nil
}

// place puts what no step names where it belongs by its joint: a manifest whose steps leave things out would
// only say that texts are short.
func (r *reader) place() {
	if len(r.assembly) == 0 {
		return
	}
	usedIn := func(name string) int {
		for i, s := range r.assembly {
			if s.use(name) != nil {
				return i
			}
		}
		return -1
	}
	for _, f := range r.fastened {
		if usedIn(f.name) >= 0 {
			continue
		}
		at := -1
		for _, t := range append(slices.Clone(f.through), f.into) {
			if t != "" && t != design.Washer {
				at = max(at, usedIn(t))
			}
		}
		if at < 0 {
			at = len(r.assembly) - 1
		}
		r.assembly[at].add(f.name, float64(f.total()), false, true)
	}
	for _, p := range r.parts {
		if !p.printable() || usedIn(p.name) >= 0 || usedIn(p.name+".mirrored") >= 0 {
			continue
		}
		at := len(r.assembly)
		for _, f := range r.fastened {
			if f.into == p.name || slices.Contains(f.through, p.name) {
				if i := usedIn(f.name); i >= 0 {
					at = min(at, i)
				}
			}
		}
		if at == len(r.assembly) {
			at = 0
		}
		if p.copies > 0 {
			r.assembly[at].add(p.name, float64(p.copies), false, true)
		}
		if p.mirrored > 0 {
			r.assembly[at].add(p.name+".mirrored", float64(p.mirrored), false, true)
		}
	}
	for _, n := range r.boardNames() {
		if usedIn(n) >= 0 {
			continue
		}
		at := 0
		for _, f := range r.fastened {
			if slices.Contains(f.through, n) {
				at = max(0, usedIn(f.name))
			}
		}
		r.assembly[at].add(n, 1, false, true)
	}
	for _, b := range r.bought {
		if b.supply || usedIn(b.name) >= 0 || b.only != nil && len(r.variants) > 1 {
			continue
		}
		r.assembly[len(r.assembly)-1].add(b.name, b.count, false, true)
	}
}
