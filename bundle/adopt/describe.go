package adopt

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/finding"
)

// describe gives the parts what the lists and texts say of them: copies, mirror images, colours, print settings.
func (r *reader) describe() {
	for _, e := range r.entries {
		for _, p := range r.partsOf(e) {
			p.entries = append(p.entries, e)
			e.taken = true
		}
	}
	for _, p := range r.parts {
		for _, e := range p.entries {
			r.fromEntry(p, e)
		}
	}
	r.fromProse()
	r.general()
}

// placeOf is the place of a file as such.
func (r *reader) placeOf(file string) finding.Place { return finding.Place{File: file} }

func where(at finding.Place) string {
	if at.Line == 0 {
		return at.File
	}
	return fmt.Sprintf("%s:%d", at.File, at.Line)
}

// partsOf are the parts that a line speaks of: those whose files it names, else the one whose name it is.
func (r *reader) partsOf(e *entry) []*part {
	var out []*part
	for _, f := range e.files {
		if p := r.partOfFile(f); p != nil && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	if len(out) > 0 || len(e.files) > 0 && endings[strings.ToLower(path.Ext(e.files[0]))] != otherFile {
		return out
	}
	if !e.printed && e.section != printSection {
		if len(fastenersIn(e.name+" "+e.size)) > 0 || e.section == buySection && !r.printedToo(e) {
			return nil
		}
	}
	if p := r.partNamed(e.name); p != nil {
		return []*part{p}
	}
	return nil
}

var (
	printedWord = lazily(`(?i)\b(?:print(?:ed)?|3d)\b`)
)

// printedToo tells whether a line of a mixed list says that its thing is printed.
func (r *reader) printedToo(e *entry) bool {
	return printedWord.MatchString(e.text)
}

// partOfFile finds the part that a file name means: the name as it is, without its ending, or by its words.
func (r *reader) partOfFile(f string) *part {
	base := strings.ToLower(path.Base(strings.TrimSpace(f)))
	for pass := range 2 {
		for _, p := range r.parts {
			list := p.files()
			for _, s := range list {
				b := strings.ToLower(path.Base(s))
				if pass == 0 && b == base || pass == 1 && strings.TrimSuffix(b, path.Ext(b)) == strings.TrimSuffix(base, path.Ext(base)) {
					return p
				}
			}
		}
	}
	if path.Ext(base) != "" && endings[path.Ext(base)] != meshFile {
		return nil
	}
	for _, l := range r.leftOut { // the name of an older state or a second copy
		if strings.EqualFold(path.Base(l.file), base) {
			n := nameOf(l.file, r.opt.colours())
			for _, p := range r.parts {
				for _, s := range p.files() {
					if nameOf(s, r.opt.colours()).stem() == n.stem() {
						return p
					}
				}
			}
		}
	}
	return nil
}

// files are the mesh files of a part, that of its mirror image included.
func (p *part) files() []string {
	var out []string
	if p.all != nil {
		out = append(out, p.all.file)
	}
	var names []string
	for v := range p.each {
		names = append(names, v)
	}
	slices.Sort(names)
	for _, v := range names {
		if f := p.each[v].file; !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	if p.pair != nil {
		out = append(out, p.pair.file)
	}
	return out
}

// stemWord takes the plural off a word.
func stemWord(w string) string {
	if len(w) > 3 && strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss") {
		return strings.TrimSuffix(w, "s")
	}
	return irregular[w] + strings.Repeat(w, b2i(irregular[w] == ""))
}

var irregular = map[string]string{"feet": "foot"}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// textWords are the words of a text, without plurals.
func textWords(s string) []string {
	w := splitWords(s)
	for i := range w {
		w[i] = stemWord(w[i])
	}
	return w
}

// find is where the words of a name stand in others one after the other; -1 for nowhere.
func findWords(in, name []string) int {
	for i := 0; len(name) > 0 && i+len(name) <= len(in); i++ {
		if slices.Equal(in[i:i+len(name)], name) {
			return i
		}
	}
	return -1
}

func stems(w []string) []string {
	out := slices.Clone(w)
	for i := range out {
		out[i] = stemWord(out[i])
	}
	return out
}

// partNamed finds the part that a name means: its words and those of the part's name are the same, or the one
// holds the other; nil when several parts would do.
func (r *reader) partNamed(s string) *part {
	w := textWords(s)
	if len(w) == 0 || len(w) > 8 {
		return nil
	}
	var best *part
	most, tie := 0, false
	for _, p := range r.parts {
		t := p.stemmed()
		n := 0
		switch {
		case slices.Equal(w, t):
			n = 100
		case findWords(w, t) >= 0:
			n = 50 + 5*len(t) - (len(w) - len(t))
		case findWords(t, w) >= 0:
			n = 30 + len(w)
		}
		switch {
		case n > most:
			best, most, tie = p, n, false
		case n == most && n > 0:
			tie = true
		}
	}
	if tie {
		return nil
	}
	return best
}

// fromEntry takes over what one line says of a part.
func (r *reader) fromEntry(p *part, e *entry) {
	at := where(e.at)
	if e.counted && e.count.unit == "" && e.count.n == float64(int(e.count.n)) && e.count.n >= 1 && e.count.n < 1000 {
		n, m := int(e.count.n), e.mirrored
		if m > 0 && n > 1 && p.pair == nil && n > m {
			n -= m
		}
		side := r.sideOf(p, e)
		switch {
		case side == "pair":
			p.mirrored, p.mirrorBy = n, origin{at, Sure}
		case side == "both":
			p.copies, p.mirrored, p.copiesBy, p.mirrorBy = max(1, n/2), n-max(1, n/2), origin{at, Likely}, origin{at, Likely}
			if m > 0 {
				p.copies, p.mirrored = n, m
			}
		default:
			r.setCopies(p, e, n, at)
			if m > 0 {
				p.mirrored, p.mirrorBy = m, origin{at, Sure}
			}
		}
	} else if e.mirrored > 0 {
		p.mirrored, p.mirrorBy = e.mirrored, origin{at, Likely}
	}
	if e.colour != "" {
		sure := Likely
		if e.tabled {
			sure = Sure
		}
		switch {
		case p.colour == "" || p.colourBy.sure < sure && !e.clashes(p.colour):
			p.colour, p.colourBy = e.colour, origin{at, sure}
		case p.colourBy.sure <= sure && e.clashes(p.colour):
			p.colour, p.colourBy = e.colour, origin{at + "; " + p.colourBy.from + " says " + p.colour, Likely}
		}
	}
	if !e.print.empty() {
		w := e.print
		w.at = e.at
		p.print = p.print.over(w)
		if p.printBy.from == "" {
			p.printBy = origin{at, Likely}
			if e.tabled {
				p.printBy.sure = Sure
			}
		}
	}
	if t, _ := splitName(e.name); t != "" && p.title == "" && len(r.filesIn(t)) == 0 && len(t) <= 60 && !strings.EqualFold(strings.Join(splitWords(t), "-"), p.name) && len(splitWords(t)) <= 5 && findWords(textWords(t), p.stemmed()) >= 0 && e.tabled {
		p.title = t
	}
}

// clashes tells whether an entry's colour is another one than a name says.
func (e *entry) clashes(colour string) bool { return !strings.EqualFold(e.colour, colour) }

// setCopies takes a count over. A name that says another number makes both doubtful.
func (r *reader) setCopies(p *part, e *entry, n int, at string) {
	if p.copiesBy.sure >= Likely && p.copies != n && p.copiesBy.from != "one file for each side" {
		if p.nameSays == p.copies && e.tabled {
			p.copies, p.copiesBy = n, origin{at + "; its file's name says " + fmt.Sprint(p.nameSays), Guess}
			return
		}
		if p.all == nil { // each variant's own line
			return
		}
		p.copiesBy.from += fmt.Sprintf("; %s says %d", at, n)
		p.copiesBy.sure = Guess
		return
	}
	sure := Likely
	if e.tabled || p.nameSays == n {
		sure = Sure
	}
	if p.copiesBy.sure == Sure && sure < Sure {
		return
	}
	p.copies, p.copiesBy = n, origin{at, sure}
	if p.nameSays == n {
		p.copiesBy.from += " and the name of its file"
	}
}

// sideOf tells which side of a pair an entry speaks of: "pair" for the file of the mirror image, "both" for a
// line that names neither or both.
func (r *reader) sideOf(p *part, e *entry) string {
	if p.pair == nil {
		return ""
	}
	first, second := false, false
	for _, f := range e.files {
		first = first || !strings.EqualFold(path.Base(f), path.Base(p.pair.file))
		second = second || strings.EqualFold(path.Base(f), path.Base(p.pair.file))
	}
	if len(e.files) == 0 {
		n := nameOf(e.name+".stl", nil)
		second = n.side != "" && n.side == p.pair.name.side || n.mirrored
		first = n.side != "" && !second
		if n.side == "" && !n.mirrored {
			return "both"
		}
	}
	switch {
	case first && second:
		return "both"
	case second:
		return "pair"
	}
	return ""
}

var (
	sentenceEnd = lazily(`[.!?;]\s+|\n`)
	twiceProse  = lazily(`(?i)\b(?:print|need|make)\s+(?:(?:it|them|this|these|the)\s+)?(?:[\w-]+\s+){0,4}?(twice|two|three|four|five|six|(\d{1,2})\s*(?:x|times|copies|of))`)
)

// fromProse looks for sentences that speak of one part: how often it is printed, mirrored, in which colour, with
// which settings.
func (r *reader) fromProse() {
	compared := 0
	for _, d := range r.docs {
		var tr track
		for _, b := range d.blocks {
			if b.kind == heading {
				tr.heading(b)
			}
			if compared += len(r.parts); compared > maxCompared {
				r.list.notes = append(r.list.notes, fmt.Sprintf("%s:%d: the texts are long and the parts many: what follows was not searched for their names", d.file, b.line))
				return
			}
			if b.kind != paragraph && b.kind != item || tr.section() == licenceSection {
				continue
			}
			isStep := tr.section() == stepSection
			for _, s := range sentenceEnd.Split(b.text, 60) {
				if len(s) > 400 {
					continue
				}
				about := r.partsIn(s)
				at := fmt.Sprintf("%s:%d", d.file, b.line)
				var w wish
				w.prose(s)
				w.at = d.at(b.line, 1)
				if !w.empty() && !isStep {
					r.settingsFor(about, w, at, s, tr.section())
				}
				if len(about) == 0 || isStep {
					continue
				}
				if m := mirrorProse.FindStringSubmatch(s); m != nil {
					for _, p := range about {
						if p.mirrored == 0 && len(about) == 1 {
							p.mirrored, p.mirrorBy = 1, origin{at, Likely}
							for _, g := range m[1:] {
								if v, ok := number(g); ok {
									p.mirrored = int(v)
								}
							}
							if p.copies == p.mirrored+1 && p.copiesBy.sure >= Likely {
								p.copies = p.copies - p.mirrored // "two, one of them mirrored"
							}
						}
					}
				} else if m := twiceProse.FindStringSubmatch(s); m != nil && len(about) == 1 && about[0].copiesBy.sure == Guess {
					v := spelled[strings.ToLower(m[1])]
					if m[1] == "twice" {
						v = 2
					}
					if m[2] != "" {
						v, _ = number(m[2])
					}
					if v >= 1 {
						about[0].copies, about[0].copiesBy = int(v), origin{at, Likely}
					}
				}
				if c := colourIn(s, r.opt.colours()); c != "" && colourSentence.MatchString(s) {
					for _, p := range r.colouredIn(s, about) {
						if p.p.colour == "" {
							p.p.colour, p.p.colourBy = p.colour, origin{at, Likely}
						}
					}
				}
			}
		}
	}
}

var colourSentence = lazily(`(?i)\b(?:print|printed|colou?r|filament|in|from|is|are|use|used)\b`)

type coloured struct {
	p      *part
	colour string
}

// colouredIn gives each part named in a sentence the colour that stands nearest behind its name, or, where there
// is none, nearest before it.
func (r *reader) colouredIn(s string, about []*part) []coloured {
	w := textWords(s)
	names := append(slices.Clone(r.opt.colours()), colourWords...)
	var out []coloured
	for _, p := range about {
		i := findWords(w, p.stemmed())
		if i < 0 {
			continue
		}
		hit := ""
		for k := i + len(p.tokens); k < len(w) && hit == ""; k++ {
			if slices.Contains(names, w[k]) {
				hit = w[k]
			}
		}
		for k := i - 1; k >= 0 && hit == ""; k-- {
			if slices.Contains(names, w[k]) {
				hit = w[k]
			}
		}
		if hit != "" {
			out = append(out, coloured{p, hit})
		}
	}
	return out
}

// partsIn are the parts that a sentence names.
func (r *reader) partsIn(s string) []*part {
	w := textWords(s)
	var out []*part
	for _, f := range r.filesIn(s) {
		if p := r.partOfFile(f); p != nil && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	for _, p := range r.parts {
		if p.printable() && findWords(w, p.stemmed()) >= 0 && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

var (
	exceptShape = lazily(`(?i)\b(?:everything|all|rest|others?|general|default|parts)\b`)
	exceptFor   = lazily(`(?i)\b(?:except|but|apart from|only)\b`)
)

// settingsFor gives settings to the parts that a sentence names, or to all.
func (r *reader) settingsFor(about []*part, w wish, at, sentence string, s topic) {
	if len(about) == 0 || exceptShape.MatchString(sentence) && !exceptFor.MatchString(sentence) {
		if len(about) == 0 && (s == settingSection || s == printSection || exceptShape.MatchString(sentence) || strings.Contains(strings.ToLower(sentence), "print")) {
			r.about.print = r.about.print.over(w)
		}
		return
	}
	if exceptFor.MatchString(sentence) && exceptShape.MatchString(sentence) {
		return // which figure is for which cannot be told
	}
	for _, p := range about {
		p.print = p.print.over(w)
		if p.printBy.from == "" {
			p.printBy = origin{at, Likely}
		}
	}
}

// general gives every part the settings that are for all.
func (r *reader) general() {
	for _, p := range r.parts {
		if r.about.print.empty() {
			continue
		}
		own := p.print
		p.print = p.print.over(r.about.print)
		if own.empty() {
			p.printBy = origin{where(r.about.print.at) + ", for all parts", Likely}
		} else if own != p.print {
			p.printBy.from += ", the rest " + where(r.about.print.at)
		}
	}
}
