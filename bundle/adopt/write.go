package adopt

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
)

// manifest writes the whole draft.
func (r *reader) manifest(w *yamlWriter) {
	if r.opt.House != nil { // a series keeps the schema beside series.yaml
		w.remark(0, "yaml-language-server: $schema=../../design.schema.json")
	}
	w.remark(0, fmt.Sprintf("Drafted from %s, of them %s and %s. Behind each value: where it came from, and whether it is", plural(len(r.list.files), "file"), plural(len(r.solids), "mesh file"), plural(len(r.texts), "text")))
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

func (r *reader) writeBought(w *yamlWriter) {
	var supplies []*purchase
	head := false
	for _, b := range r.bought {
		if b.supply {
			supplies = append(supplies, b)
			continue
		}
		if !head {
			w.line(0, "bought:", "")
			head = true
		}
		at := "bought." + b.name
		w.value(2, "- ", "name", b.name, at, origin{"the first words of its line", Guess})
		w.value(4, "", "what", quote(oneLine(b.what, 300)), at+".what", b.by)
		if len(b.size) > 0 {
			var t []string
			for _, s := range b.size {
				t = append(t, s[0]+": "+s[1])
			}
			w.value(4, "", "size", "{"+strings.Join(t, ", ")+"}", at+".size", origin{b.by.from, Likely})
		}
		if b.count != 1 || b.unit != "" || b.by.sure == Sure {
			w.value(4, "", "count", figureText(b.count), at+".count", b.by)
		}
		if b.unit != "" {
			w.value(4, "", "unit", b.unit, at+".unit", b.by)
		}
		if b.pack > 0 {
			w.value(4, "", "pack", fmt.Sprint(b.pack), at+".pack", origin{b.by.from, Likely})
		}
		if b.price > 0 {
			w.todo(4, "price: "+figureText(b.price), b.by.from+" gives this figure; of one or of a pack?")
		}
		if len(b.only) > 0 {
			w.value(4, "", "only", "["+strings.Join(b.only, ", ")+"]", at+".only", origin{b.by.from, Likely})
		}
	}
	if !head {
		w.todo(0, "bought: [{name: fan, what: fan 40 x 40 x 10, volts: 5}]", "what is bought in; boards stand with their variant")
	}
	if len(supplies) > 0 {
		w.line(0, "supplies:", "")
		for _, b := range supplies {
			w.value(2, "- ", "what", quote(oneLine(b.what, 200)), "supplies", b.by)
		}
	}
}

func (r *reader) writeFasteners(w *yamlWriter) {
	if len(r.fastened) == 0 {
		w.todo(0, "fasteners: [{name: lid-screw, screw: M3x8, head: socket, count: 4, through: [lid], into: base}]", "none was found, in lists or in holes")
	} else {
		w.line(0, "fasteners:", "")
		for _, f := range r.fastened {
			r.writeFastener(w, f)
		}
	}
	r.writeHoles(w)
}

// writeHoles names the holes that look made for screws and that no fastener uses.
func (r *reader) writeHoles(w *yamlWriter) {
	said := map[string]bool{}
	for _, j := range r.found {
		if j.left <= 0 || j.part == nil || r.usesJoint(j) || len(said) >= 20 {
			continue
		}
		var what []string
		for _, u := range j.options[:min(len(j.options), 3)] {
			what = append(what, map[fit.Role]string{fit.Thread: "a thread cut into the plastic by ", fit.Insert: "an insert of ", fit.Nut: "a nut of "}[u.role]+string(u.size))
		}
		text := fmt.Sprintf("No fastener uses %s, %s mm wide: for %s?", j.from, hundredths(j.width), strings.Join(what, ", or "))
		if !said[text] {
			said[text] = true
			w.remark(2, text)
		}
	}
}

func (r *reader) usesJoint(j *joint) bool {
	return slices.ContainsFunc(r.fastened, func(f *fastener) bool {
		return f.joint == j || f.joint != nil && f.joint.from == j.from && f.joint.into == j.into
	})
}

func (r *reader) writeFastener(w *yamlWriter, f *fastener) {
	at := "fasteners." + f.name
	w.value(2, "- ", "name", f.name, at, origin{"what it joins", Guess})
	first := f.screws[0]
	by, count := f.by, f.countBy
	if f.item == nil {
		by = origin{"the holes' width; " + r.lengthRemark(f), Guess}
		count = origin{f.jointBy.from, Likely}
	}
	sameScrew, sameCount := true, true
	for _, s := range f.screws {
		sameScrew = sameScrew && s.m.what() == first.m.what()
		sameCount = sameCount && s.count == first.count
		if f.item != nil && s.holes != s.count && s.holes > 0 && f.joint != nil && f.joint.kind != restJoint {
			count.sure = min(count.sure, Likely)
			if s.count == f.item.count {
				count.from += fmt.Sprintf("; the meshes hold %d", s.holes)
			} else {
				count.from += "; a share of it"
			}
		} else if f.item != nil && f.joint != nil && s.count != f.item.count {
			count = origin{f.item.from.from + "; the share that " + f.joint.from + " take", Likely}
		}
	}
	if f.item != nil && !f.item.counted {
		count = origin{f.jointBy.from, Likely}
		if f.joint == nil {
			count = origin{"no count was found", Guess}
		}
	}
	length := func(m mention) string {
		l := m.length
		if l == 0 {
			l = usualLength(m.size)
		}
		if m.standard != "" {
			return m.standard + " - " + string(m.size) + " x " + figureText(l)
		}
		return string(m.size) + "x" + figureText(l)
	}
	if first.m.length == 0 {
		by.sure = Guess
		by.from += "; no length was found"
	}
	if sameScrew || len(f.screws) == 1 {
		w.value(4, "", "screw", quote(length(first.m)), at+".screw", by)
	} else {
		w.line(4, "screw:", "by variant")
		for _, s := range f.screws {
			w.value(6, "", design.Kebab(s.variant), quote(length(s.m)), at+".screw."+s.variant, by)
		}
	}
	if h := r.headText(f); h != "" {
		w.value(4, "", "head", h, at+".head", by)
	} else if first.m.standard == "" {
		w.todo(4, "head: socket", "nothing says which head; socket is taken")
	}
	if sameCount || len(f.screws) == 1 {
		w.value(4, "", "count", fmt.Sprint(first.count), at+".count", count)
	} else {
		w.line(4, "count:", "by variant")
		for _, s := range f.screws {
			w.value(6, "", design.Kebab(s.variant), fmt.Sprint(s.count), at+".count."+s.variant, count)
		}
	}
	jointBy := f.jointBy
	if len(f.through) == 0 && f.into != "" && f.joint != nil && f.joint.kind == restJoint {
		// What it clamps is not known, so that no length can be judged: both lines wait.
		w.todo(4, "through: [lid]", "what it passes, head first: parts, bought parts, board, washer")
		w.todo(4, "into: "+f.into, jointBy.from+" would take it")
		r.writeOnly(w, f, at)
		return
	}
	if len(f.through) > 0 {
		if jointBy.from == "" {
			jointBy = origin{f.by.from, Guess}
		}
		w.value(4, "", "through", "["+strings.Join(f.through, ", ")+"]", at+".through", jointBy)
	} else {
		w.todo(4, "through: [lid]", "what it passes, head first: parts, bought parts, board, washer")
	}
	switch {
	case f.insert != nil && f.into != "":
		w.line(4, "into:", "")
		w.line(6, "insert:", "")
		w.value(8, "", "thread", string(f.insert.size), at+".insert", f.insert.by)
		w.value(8, "", "outer", figureText(f.insert.outer), at+".insert.outer", f.insert.by)
		w.value(8, "", "length", figureText(f.insert.length), at+".insert.length", f.insert.by)
		w.value(6, "", "in", f.into, at+".into", jointBy)
	case f.nut != "":
		in := ""
		if f.into != "" && !f.bolt {
			in = ", in: " + f.into
		}
		w.value(4, "", "into", "{nut: "+f.nut+in+"}", at+".into", jointBy)
	case f.into != "":
		w.value(4, "", "into", f.into, at+".into", jointBy)
	default:
		w.todo(4, "into: base", "what it goes into: a part's plastic, an insert or a nut in a part, a bought part")
	}
	r.writeOnly(w, f, at)
}

func (r *reader) writeOnly(w *yamlWriter, f *fastener, at string) {
	if len(f.only) > 0 && len(f.only) < len(r.variants) {
		w.value(4, "", "only", "["+strings.Join(f.only, ", ")+"]", at+".only", origin{f.by.from, Likely})
	}
}

// headText is the head's word in a manifest, "" where the list does not say, or differs between variants.
func (r *reader) headText(f *fastener) string {
	h := f.screws[0].m.head
	for _, s := range f.screws {
		if s.m.head != h {
			return ""
		}
	}
	if h == hardware.HeadSocket || h == "" || f.screws[0].m.standard != "" {
		if h == hardware.HeadSocket && f.screws[0].m.standard == "" {
			return string(h)
		}
		return ""
	}
	return string(h)
}

// lengthRemark says which lengths would hold.
func (r *reader) lengthRemark(f *fastener) string {
	if f.joint == nil {
		return "the length is a guess"
	}
	l := r.lengthsOf(f.joint, f.screws[0].m)
	if l == nil || len(l.Made) == 0 {
		return "the length is a guess"
	}
	var t []string
	for _, x := range l.Made[:min(len(l.Made), 6)] {
		t = append(t, figureText(x))
	}
	return "lengths of " + listed(t) + " would hold"
}

func (r *reader) writeSteps(w *yamlWriter) {
	if len(r.assembly) == 0 {
		w.todo(0, "assembly:", "needed as soon as anything is put together; no steps were found")
		w.todo(0, "  - {title: Close the lid, text: Hand tight., uses: {base: 1, lid: 1}, tools: [hex key 2.5]}", "")
		return
	}
	w.line(0, "assembly:", "")
	used := map[string]bool{}
	for i, s := range r.assembly {
		at := fmt.Sprintf("assembly.%d", i+1)
		title := oneLine(s.title, 100)
		if strings.TrimSpace(title) == "" {
			title = fmt.Sprintf("Step %d", i+1)
		}
		base := title
		for k := 2; used[title]; k++ { // later steps name earlier ones by their titles
			title = fmt.Sprintf("%s (%d)", base, k)
		}
		used[title] = true
		w.value(2, "- ", "title", quote(title), at, s.by)
		if t := oneLine(s.text, 2000); t != "" {
			w.value(4, "", "text", quote(t), at+".text", s.by)
		} else {
			w.todo(4, "text: how, in short sentences", "")
		}
		if s.times > 1 {
			w.value(4, "", "times", fmt.Sprint(s.times), at+".times", s.by)
		}
		if len(s.uses) > 0 {
			w.line(4, "uses:", "")
			for _, u := range s.uses {
				by := origin{s.by.from, Likely}
				if u.guess {
					by = origin{"no step names it; placed by what it joins", Guess}
				} else if u.said {
					by.from += " says how many"
				}
				w.value(6, "", u.name, figureText(u.n), at+".uses."+u.name, by)
			}
		} else {
			w.todo(4, "uses: {}", "names and counts of what it uses up")
		}
		if len(s.tools) > 0 {
			var q []string
			for _, t := range s.tools {
				q = append(q, quote(t))
			}
			w.value(4, "", "tools", "["+strings.Join(q, ", ")+"]", at+".tools", origin{s.by.from, Likely})
		}
		if len(s.only) > 0 && len(s.only) < len(r.variants) {
			w.value(4, "", "only", "["+strings.Join(s.only, ", ")+"]", at+".only", origin{s.by.from, Guess})
		}
		if s.picture != "" {
			alt := s.alt
			if strings.TrimSpace(oneLine(alt, 200)) == "" {
				alt = "Picture of this step: " + title
			}
			w.value(4, "", "picture", "{file: "+quotePath(s.picture)+", alt: "+quote(oneLine(alt, 200))+"}", at+".picture", s.by)
		}
	}
}

func (r *reader) writePhotos(w *yamlWriter) {
	if len(r.about.photos) == 0 {
		w.todo(0, "photos: [{file: photos/front.jpg, alt: What the picture shows, cover: true}]", "no picture was found")
		return
	}
	w.line(0, "photos:", "")
	for i, p := range r.about.photos {
		at := fmt.Sprintf("photos.%d", i+1)
		w.value(2, "- ", "file", quotePath(p.file), at, p.by)
		if alt := oneLine(p.alt, 250); alt != "" {
			w.value(4, "", "alt", quote(alt), at+".alt", p.by)
		} else {
			w.todo(4, "alt: what it shows, for who cannot see it", path.Base(p.file))
		}
		if p.cover {
			w.value(4, "", "cover", "true", at+".cover", origin{p.by.from, Guess})
		}
	}
}

// trial writes the least manifest in which one fastener can be worked out.
func (r *reader) trial(w *yamlWriter, v string, f *fastener, m mention, count int) {
	w.line(0, "title: t", "")
	w.line(0, "summary: s", "")
	w.line(0, "changes: [{revision: 1.0.0, date: 2000-01-01, text: t}]", "")
	parts := map[string]bool{}
	if f.into != "" {
		parts[f.into] = true
	}
	var bought []string
	board := false
	for _, t := range f.through {
		switch {
		case r.part(t) != nil:
			parts[t] = true
		case slices.Contains(r.boardNames(), t):
			board = true
		case t != design.Washer:
			bought = append(bought, t)
		}
	}
	if board {
		for _, x := range r.variants {
			if x.name != v {
				continue
			}
			for i, b := range x.boards {
				if slices.Contains(f.through, boardName(x.boards, i)) && b.sitsIn != nil {
					parts[b.sitsIn.name] = true
					w.line(0, "variants: [{name: v, boards: [{name: "+boardName(x.boards, i)+", profile: "+r.boardText(b.id)+", sits_in: "+b.sitsIn.name+"}]}]", "")
				}
			}
		}
	}
	w.line(0, "parts:", "")
	for _, p := range r.parts {
		if s := p.meshIn(v); parts[p.name] && s != nil {
			w.line(2, fmt.Sprintf("- {name: %s, mesh: %s, copies: %d}", p.name, quotePath(s.file), p.total()), "")
		}
	}
	if len(bought) > 0 {
		w.line(0, "bought:", "")
		for _, b := range bought {
			w.line(2, "- {name: "+b+", what: "+b+"}", "")
		}
	}
	g := *f
	g.screws = []screwIn{{"", m, count, count}}
	g.only, g.item = nil, &fastening{m: m, count: count, counted: true}
	g.name = "f"
	w.line(0, "fasteners:", "")
	t := &yamlWriter{}
	(&reader{parts: r.parts, opt: r.opt}).writeFastener(t, &g)
	w.b.WriteString(t.String())
}
