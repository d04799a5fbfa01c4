package adopt

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
)

// say keeps a finding about the folder. Its place is in the folder's own files.
func (r *reader) say(code string, at finding.Place, text, hint string, subjects ...string) {
	if at.File != "" && at.Line > 0 && at.Width == 0 {
		at.Width = 1
	}
	f := finding.New(code, at, text, hint)
	if slices.Contains(r.findings, f) {
		return
	}
	r.findings = append(r.findings, f)
	r.subjects = append(r.subjects, subjects)
}

// contradictions looks for what in the folder speaks against what.
func (r *reader) contradictions() {
	r.absentFiles()
	r.otherUnits()
	r.twoNames()
	r.countsAgainstHoles()
	r.insertsAgainstHoles()
	r.countsAgainstSteps()
	r.countsAgainstNames()
}

// absentFiles: what a list or a text names is there.
func (r *reader) absentFiles() {
	known := map[string]bool{}
	var bases []string
	for _, f := range r.list.files {
		known[strings.ToLower(path.Base(f.path))] = true
		bases = append(bases, path.Base(f.path))
	}
	told := map[string]bool{}
	judge := func(name string, at finding.Place, listed bool) {
		base := strings.ToLower(path.Base(name))
		ext := path.Ext(base)
		if known[base] || told[base] || ext == "" || endings[ext] == otherFile {
			return
		}
		told[base] = true
		hint := "add the file, or mend the name"
		if near := finding.Nearest(path.Base(name), bases); near != "" {
			hint = "did you mean " + near + "? " + hint
		}
		if listed && endings[ext] == meshFile {
			r.say("mesh-missing", at, fmt.Sprintf("the list names %s, and the folder holds no such file", path.Base(name)), hint, base)
			return
		}
		r.say("mention-unknown", at, fmt.Sprintf("the text names %s, and the folder holds no such file", path.Base(name)), hint, base)
	}
	for _, e := range r.entries {
		for _, f := range e.files {
			at := e.at
			if t := r.text(at.File); t != nil && at.Line >= 1 && at.Line <= len(t.lines) {
				if i := strings.Index(t.lines[at.Line-1], f); i >= 0 {
					at.Column, at.Width = i+1, len(f)
				}
			}
			judge(f, at, true)
		}
	}
	for _, d := range r.docs {
		for i, l := range d.lines {
			for _, f := range r.filesIn(l) {
				at := d.at(i+1, max(0, strings.Index(l, f))+1)
				at.Width = len(f)
				if strings.Contains(l, "://") && strings.Contains(l[:strings.Index(l, f)+len(f)], "/"+f) {
					continue
				}
				judge(f, at, false)
			}
		}
	}
}

func (r *reader) text(file string) *text {
	for _, t := range r.texts {
		if t.file == file {
			return t
		}
	}
	return nil
}

// mentionOf is the first place where a list or a text names a file; else the file itself.
func (r *reader) mentionOf(file string) finding.Place {
	base := strings.ToLower(path.Base(file))
	for _, t := range r.texts {
		if t.kind == licenceFile {
			continue
		}
		for i, l := range t.lines {
			if k := strings.Index(strings.ToLower(l), base); k >= 0 {
				at := t.at(i+1, k+1)
				at.Width = len(base)
				return at
			}
		}
	}
	return r.placeOf(file)
}

// otherUnits: meshes are in millimetres.
func (r *reader) otherUnits() {
	for _, s := range r.solids {
		if s.unit == "" || !r.isPart(s) {
			continue
		}
		size := ""
		if s.facts.Size != nil {
			size = fmt.Sprintf("%s × %s × %s mm", figureText(s.facts.Size[0]), figureText(s.facts.Size[1]), figureText(s.facts.Size[2]))
		}
		plural := s.unit + "s"
		if s.unit == "inch" {
			plural = "inches"
		}
		r.say("unit-suspect", r.mentionOf(s.file), fmt.Sprintf("%s is %s: it seems to be in %s", s.file, size, plural), "export it in millimetres; the draft reads its holes as if it were", path.Base(s.file))
	}
}

func (r *reader) isPart(s *solid) bool {
	for _, p := range r.parts {
		if slices.Contains(p.files(), s.file) {
			return true
		}
	}
	return false
}

// twoNames: one shape has one name.
func (r *reader) twoNames() {
	for _, l := range r.leftOut {
		other, ok := strings.CutPrefix(l.why, "the same shape as ")
		if !ok || nameOf(l.file, nil).stem() == nameOf(other, nil).stem() {
			continue
		}
		r.say("mesh-twice", r.mentionOf(l.file), fmt.Sprintf("%s and %s are one shape under two names", l.file, other), "keep one of the two; if one was to be another part, export it again", path.Base(l.file), path.Base(other))
	}
	for i, p := range r.parts {
		for _, q := range r.parts[:i] {
			for _, s := range p.solids(r.variants) {
				for _, t := range q.solids(r.variants) {
					if s != t && s.print != "" && (s.print == t.print || s.facts.SHA256 == t.facts.SHA256) {
						r.say("mesh-twice", r.mentionOf(s.file), fmt.Sprintf("%s and %s are one shape under two names", t.file, s.file), "keep one of the two; if one was to be another part, export it again", path.Base(s.file), path.Base(t.file))
					}
				}
			}
		}
	}
}

// countsAgainstHoles: a list has as many screws as the meshes have holes for.
func (r *reader) countsAgainstHoles() {
	for _, f := range r.fastened {
		if f.item == nil || !f.item.counted || f.joint == nil || !f.joint.sure || f.item.e == nil {
			continue
		}
		for _, s := range f.screws {
			if s.holes == s.count || s.count != f.item.count {
				continue
			}
			code, more := "count-short", "more than the list"
			if s.count > s.holes {
				code, more = "count-over", "fewer than the list"
			}
			what := listed(slices.Concat(r.meshNames(f.through, s.variant), r.meshNames([]string{f.into}, s.variant)))
			r.say(code, r.column(f.item.at, figureText(float64(s.count))), fmt.Sprintf("the list says %d × %s; %s hold %d holes for it, %s", s.count, f.item.what(), what, s.holes, more), fmt.Sprintf("list %d, or say which holes stay empty; the draft has %d", s.holes, s.count), f.name, strings.Join(append(slices.Clone(f.through), f.into), " and "))
			break
		}
	}
}

// column points at a figure within a line, where it stands there.
func (r *reader) column(at finding.Place, figure string) finding.Place {
	t := r.text(at.File)
	if t == nil || at.Line < 1 || at.Line > len(t.lines) {
		return at
	}
	if i := strings.Index(t.lines[at.Line-1], figure); i >= 0 {
		at.Column, at.Width = i+1, len(figure)
	}
	return at
}

func (r *reader) meshNames(parts []string, v string) []string {
	var out []string
	for _, n := range parts {
		if p := r.part(n); p != nil {
			if s := p.meshIn(v); s != nil {
				out = append(out, s.file)
			}
		}
	}
	return out
}

// insertsAgainstHoles: the holes suit the inserts that a list names.
func (r *reader) insertsAgainstHoles() {
	for _, f := range r.fastened {
		if f.insert == nil || f.joint == nil || f.insert.by.sure == Guess {
			continue
		}
		need, ok := hardware.InsertHole(f.insert.size, f.insert.outer, f.insert.length, r.allowance())
		v := f.joint.variant
		p := r.part(f.into)
		if !ok || p == nil || p.meshIn(v) == nil || p.meshIn(v).shape == nil {
			continue
		}
		fj := r.try(v, f, f.screws[0].m, f.screws[0].count)
		if fj == nil {
			continue
		}
		for _, m := range fj.Members {
			if m.Role != string(fit.Insert) || len(m.Holes) == 0 || m.Holes[0].Missing {
				continue
			}
			d := m.Holes[0].Passes
			if need.Hole.Contains(d) {
				continue
			}
			code, how := "insert-hole-narrow", "narrow"
			if d > need.Hole.Max {
				code, how = "insert-hole-wide", "wide"
			}
			at := r.mentionOf(p.meshIn(v).file)
			for _, it := range r.items {
				if it.m.kind == hardware.KindInsert && it.m.size == f.insert.size {
					at = r.column(it.at, figureText(f.insert.outer))
				}
			}
			r.say(code, at, fmt.Sprintf("the list names inserts of %s mm, and the holes of %s are %s mm, too %s: %s to %s would do", figureText(f.insert.outer), p.meshIn(v).file, hundredths(m.Holes[0].Diameter), how, hundredths(need.Hole.Min), hundredths(need.Hole.Max)),
				"draw the holes for the insert, or list the insert that fits them", f.name)
			break
		}
	}
}

// countsAgainstSteps: the steps use as many as the list has, where they say how many.
func (r *reader) countsAgainstSteps() {
	type tally struct {
		f     *fastener
		said  bool
		used  float64
		where []string
	}
	byItem := map[*fastening]*tally{}
	var order []*fastening
	for _, f := range r.fastened {
		if f.item == nil || !f.item.counted || len(r.variants) > 1 {
			continue
		}
		t := byItem[f.item]
		if t == nil {
			t = &tally{f: f, said: true}
			byItem[f.item] = t
			order = append(order, f.item)
		}
		for i, s := range r.assembly {
			if u := s.use(f.name); u != nil {
				t.used += u.n * float64(max(1, s.times))
				t.said = t.said && u.said
				t.where = append(t.where, fmt.Sprintf("step %d, %s: %s", i+1, where(s.at), figureText(u.n*float64(max(1, s.times)))))
			}
		}
	}
	for _, it := range order {
		t := byItem[it]
		if len(t.where) == 0 || !t.said || t.used == float64(it.count) {
			continue
		}
		code := "count-short"
		if t.used < float64(it.count) {
			code = "count-over"
		}
		if len(t.where) > 6 {
			t.where = append(t.where[:6], "…")
		}
		r.say(code, r.column(it.at, fmt.Sprint(it.count)), fmt.Sprintf("the list says %d × %s; the steps use %s (%s)", it.count, it.what(), figureText(t.used), strings.Join(t.where, "; ")), "mend the list, or the step that counts wrong", t.f.name)
	}
}

// countsAgainstNames: the name of a file and the list agree on how many are printed.
func (r *reader) countsAgainstNames() {
	for _, p := range r.parts {
		if p.nameSays == 0 || p.all == nil {
			continue
		}
		for _, e := range p.entries {
			n := int(e.count.n)
			if !e.counted || n == p.nameSays || e.mirrored > 0 || n == p.copies+p.mirrored && p.mirrored > 0 {
				continue
			}
			code := "count-short"
			if n > p.nameSays {
				code = "count-over"
			}
			r.say(code, r.column(e.at, figureText(e.count.n)), fmt.Sprintf("the list says %d of %s, the name of %s says %d", n, p.name, path.Base(p.all.file), p.nameSays), "mend one of the two", p.name)
			break
		}
	}
}
