package adopt

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/unit"
)

// manifest writes the whole draft.
func (r *reader) manifest(w *yamlWriter) {
	if r.opt.House != nil { // a series keeps the schema beside series.yaml
		w.remark(0, "yaml-language-server: $schema=../../design.schema.json")
	}
	w.remark(0, fmt.Sprintf("Drafted from %s, of them %s and %s. Behind each value: where it came from, and whether it is", unit.Count(len(r.list.files), "file"), unit.Count(len(r.solids), "mesh file"), unit.Count(len(r.texts), "text")))
	w.remark(0, "sure, likely or a guess. A line that is commented out waits for you. Lengths are millimetres.")
	r.head(w)
	r.writeVariants(w)
	roles := r.colours(w)
	r.writeParts(w, roles)
	r.writeBought(w)
	r.writeFasteners(w)
	r.writeSteps(w)
	r.writePhotos(w)
	w.line(0, "credits: [{what: the design, by: own work}]", "guess: nobody else is named; mend it when others had a hand in it")
	w.values = append(w.values, Value{"credits", "own work", "", Guess})
	if l := r.left(); len(l) > 0 {
		w.remark(0, "Not taken up:")
		for _, x := range l[:min(len(l), 60)] {
			w.remark(0, "  "+x.File+": "+x.Why)
		}
	}
}

// PlaceholderSummary stands where the folder holds no sentence on what the design does: that of a new design, which
// check finds when it is still there.
const PlaceholderSummary = "Say in one sentence what it does and for whom."

func (r *reader) head(w *yamlWriter) {
	title, by := r.about.title, r.about.titleBy
	if strings.TrimSpace(oneLine(title, 90)) == "" {
		title, by = titleCase(r.opt.Name), origin{"the folder's name", Guess}
	}
	w.value(0, "", "title", quote(oneLine(title, 90)), "title", by)
	summary, sby := r.about.summary, r.about.summaryBy
	if strings.TrimSpace(oneLine(summary, 250)) == "" {
		summary, sby = PlaceholderSummary, origin{"nothing was found", Guess}
	}
	w.value(0, "", "summary", quote(oneLine(summary, 250)), "summary", sby)
	w.line(0, "changes:", "newest first")
	w.line(2, fmt.Sprintf("- {revision: 1.0.0, date: %s, text: first release}", r.opt.Date), "guess: a start")
	w.values = append(w.values, Value{"changes", "1.0.0", "", Guess})
	w.todo(0, "story: story.md", "Markdown for the announcement")
	w.todo(0, "used_in: [outdoors]", "where it is used: outdoors, greenhouse, car, window")
	if r.about.licence != "" {
		w.value(0, "", "licence", quote(r.about.licence), "licence", r.about.licenceBy)
	} else {
		w.todo(0, "licence: CC-BY-SA-4.0", "no licence was found; the series' holds until you name one")
	}
	if r.about.code != "" && r.about.code != r.about.licence {
		w.line(0, "licences:", "")
		w.value(2, "", "code", quote(r.about.code), "licences.code", r.about.codeBy)
	}
}

func titleCase(name string) string {
	w := strings.Split(name, "-")
	for i := range w {
		if w[i] != "" {
			w[i] = strings.ToUpper(w[i][:1]) + w[i][1:]
		}
	}
	return strings.Join(w, " ")
}

func (r *reader) writeVariants(w *yamlWriter) {
	if len(r.variants) == 0 {
		w.todo(0, "variants: [{name: ce, title: 96Boards CE, board: 96boards-ce, sits_in: base}]", "one for each board, size or option")
		return
	}
	w.line(0, "variants:", "")
	for _, v := range r.variants {
		at := "variants." + v.name
		w.value(2, "- ", "name", design.Kebab(v.name), at, v.by)
		if v.title != "" {
			w.value(4, "", "title", quote(v.title), at+".title", origin{"the board's profile", Likely})
		}
		switch {
		case len(v.boards) == 1:
			b := v.boards[0]
			w.value(4, "", "board", r.boardText(b.id), at+".board", b.by)
			if b.sitsIn != nil {
				w.value(4, "", "sits_in", b.sitsIn.name, at+".sits_in", b.seatBy)
			}
		case len(v.boards) > 1:
			w.line(4, "boards:", "")
			for i, b := range v.boards {
				n := boardName(v.boards, i)
				w.value(6, "- ", "name", n, at+".boards."+n, origin{"its profile's name", Guess})
				w.value(8, "", "profile", r.boardText(b.id), at+".boards."+n+".profile", b.by)
				if b.sitsIn != nil {
					w.value(8, "", "sits_in", b.sitsIn.name, at+".boards."+n+".sits_in", b.seatBy)
				}
			}
		default:
			w.todo(4, "board: 96boards-ce", "no known board's mounts meet holes here; `dropwright boards` lists the profiles")
		}
	}
}

func (r *reader) boardText(id string) string {
	if f, ok := r.own[id]; ok {
		return quotePath(f)
	}
	return id
}

// colours writes the colour roles, and says which role each part has.
func (r *reader) colours(w *yamlWriter) map[*part]string {
	roles := map[*part]string{}
	type group struct {
		filament string
		parts    []*part
		volume   float64
		by       origin
	}
	var groups []*group
	for _, p := range r.parts {
		f, by := r.filament(p)
		var g *group
		for _, x := range groups {
			if x.filament == f {
				g = x
			}
		}
		if g == nil {
			g = &group{filament: f, by: by}
			groups = append(groups, g)
		}
		g.parts = append(g.parts, p)
		g.by.sure = max(g.by.sure, by.sure)
		for _, s := range p.solids(r.variants) {
			if s.facts.Volume != nil && p.printable() {
				g.volume += math.Abs(*s.facts.Volume) * float64(p.total())
			}
		}
	}
	slices.SortStableFunc(groups, func(a, b *group) int { return cmp.Compare(b.volume, a.volume) })
	w.line(0, "colours:", "colour roles, each with a filament; a list [one, another] offers several")
	used := map[string]bool{}
	for i, g := range groups {
		name := "body"
		if i > 0 {
			name = "accent"
			if len(g.parts) == 1 {
				name = g.parts[0].name
			}
		}
		name = unique(design.Kebab(name), used)
		w.value(2, "", name, g.filament, "colours."+name, g.by)
		for _, p := range g.parts {
			roles[p] = name
		}
	}
	return roles
}

// filament is the filament that a part's colour means: one of the series by its name; without a series the
// folder's own word.
func (r *reader) filament(p *part) (string, origin) {
	names := r.opt.colours()
	if p.colour == "" {
		if len(names) > 0 {
			return names[0], origin{"no colour was found", Guess}
		}
		return "black", origin{"no colour was found", Guess}
	}
	w := splitWords(p.colour)
	for _, n := range names {
		if findWords(w, splitWords(n)) >= 0 {
			return n, p.colourBy
		}
	}
	if len(names) > 0 {
		return names[0], origin{fmt.Sprintf("%s says %q, which is no filament of the series", p.colourBy.from, p.colour), Guess}
	}
	if k := ownColour(p.colour); k != "" {
		return k, p.colourBy
	}
	if c := colourIn(p.colour, nil); c != "" {
		return c, p.colourBy
	}
	return "black", origin{p.colourBy.from, Guess}
}

// ownColour is a maker's word for a colour as a name: without what explains it, and without the material.
func ownColour(s string) string {
	for _, cut := range []string{"(", "/", ",", ";", " or "} {
		s, _, _ = strings.Cut(s, cut)
	}
	var out []string
	for _, w := range splitWords(materialProse.ReplaceAllString(s, "")) {
		if w != "filament" && w != "any" && w != "colour" && w != "color" {
			out = append(out, w)
		}
	}
	if len(out) == 0 || len(out) > 3 {
		return ""
	}
	if k := design.Kebab(strings.Join(out, "-")); k != "name" {
		return k
	}
	return ""
}

func (r *reader) writeParts(w *yamlWriter, roles map[*part]string) {
	w.line(0, "parts:", "")
	for _, p := range r.parts {
		at := "parts." + p.name
		w.value(2, "- ", "name", p.name, at, p.named)
		if p.title != "" {
			w.value(4, "", "title", quote(p.title), at+".title", origin{"the list", Likely})
		}
		r.writeMesh(w, p, at)
		w.value(4, "", "colour", roles[p], at+".colour", r.colourOrigin(p))
		if p.role != "" {
			w.value(4, "", "role", p.role, at+".role", p.roleBy)
		}
		if p.copies != 1 || p.mirrored > 0 || p.copiesBy.sure > Guess {
			if p.copies > 0 || p.mirrored > 0 {
				by := p.copiesBy
				if by.from == "" {
					by.from = "nothing says otherwise"
				}
				w.value(4, "", "copies", fmt.Sprint(p.copies), at+".copies", by)
			}
		} else if p.printable() {
			w.todo(4, "copies: 1", "nothing says how many")
		}
		if p.mirrored > 0 {
			w.value(4, "", "mirrored", fmt.Sprint(p.mirrored), at+".mirrored", p.mirrorBy)
		}
		if len(p.only) > 0 && len(p.only) < len(r.variants) {
			w.value(4, "", "only", "["+strings.Join(p.only, ", ")+"]", at+".only", origin{"the names of meshes", Likely})
		}
		if len(p.from) > 0 {
			var q []string
			for _, f := range p.from {
				q = append(q, quotePath(f))
			}
			w.value(4, "", "from", "["+strings.Join(q, ", ")+"]", at+".from", origin{"the same name", Likely})
		}
		r.writePrint(w, p, at)
		if p.toolpath != "" && r.goesWith(p) {
			w.value(4, "", "toolpath", quotePath(p.toolpath), at+".toolpath", origin{"the same name", Likely})
		}
		for _, x := range p.remarks {
			w.remark(4, x)
		}
		for _, e := range p.entries {
			if e.seconds > 0 || e.grams > 0 {
				said := ""
				if e.seconds > 0 {
					said = fmt.Sprintf("%dh%02dm", int(e.seconds)/3600, int(e.seconds)/60%60)
				}
				if e.grams > 0 {
					said = strings.TrimSpace(said + " " + figureText(e.grams) + " g")
				}
				w.remark(4, where(e.at)+" says: "+said+" (the tool works this out itself)")
				break
			}
		}
	}
}

// goesWith tells whether a print file can be named: a part of several meshes has no one.
func (r *reader) goesWith(p *part) bool { return p.all != nil }

func (r *reader) colourOrigin(p *part) origin {
	_, by := r.filament(p)
	return by
}

func (r *reader) writeMesh(w *yamlWriter, p *part, at string) {
	if p.all != nil {
		w.value(4, "", "mesh", quotePath(p.all.file), at+".mesh", origin{"the file", Likely})
		return
	}
	w.line(4, "mesh:", "by variant")
	for _, v := range r.variants {
		if s := p.each[v.name]; s != nil {
			w.value(6, "", design.Kebab(v.name), quotePath(s.file), at+".mesh."+v.name, origin{"the file's name", Likely})
		}
	}
}

// writePrint writes the settings that differ from the series'.
func (r *reader) writePrint(w *yamlWriter, p *part, at string) {
	if !p.printable() {
		return
	}
	s := p.print
	var out [][2]string
	house := wish{}
	if h := r.opt.House; h != nil {
		if h.Print.Layer.Set() {
			house.layer = figureText(float64(h.Print.Layer.V))
		}
		if h.Print.Infill.Set() {
			house.infill = figureText(float64(h.Print.Infill.V)*100) + " %"
		}
		if h.Print.Walls.Set() {
			house.walls = fmt.Sprint(h.Print.Walls.V)
		}
	}
	for _, x := range [][3]string{{"layer", s.layer, house.layer}, {"walls", s.walls, house.walls}, {"infill", s.infill, house.infill}} {
		if x[1] != "" && x[1] != x[2] {
			out = append(out, [2]string{x[0], x[1]})
		}
	}
	by := p.printBy
	if by.from == "" {
		by.from = where(s.at)
	}
	if len(out) > 0 {
		var t []string
		for _, x := range out {
			t = append(t, x[0]+": "+x[1])
		}
		w.value(4, "", "print", "{"+strings.Join(t, ", ")+"}", at+".print", by)
	}
	if s.supports != "" {
		w.value(4, "", "supports", s.supports, at+".supports", by)
	}
}
