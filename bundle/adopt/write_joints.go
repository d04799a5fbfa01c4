package adopt

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
)

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
