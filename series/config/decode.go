package config

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/manifest"
	"dropwright/bundle/source"
)

// Decode reads a series.yaml. The series is nil when the text cannot be read at all.
func Decode(file string, data []byte) (*Series, *source.Text, []finding.Finding) {
	root, text, found := source.Parse(file, data)
	if root == nil {
		return nil, text, found
	}
	s := &Series{File: file}
	found = append(found, source.Decode(root, s)...)
	found = append(found, manifest.Fresh(s.refer(), found)...)
	finding.Sort(found)
	return s, text, found
}

// refer checks names and ranges within the series.
func (s *Series) refer() []finding.Finding {
	var out []finding.Finding
	add := func(code string, at finding.Place, text, hint string) {
		out = append(out, finding.New(code, at, text, hint))
	}
	unique := func(what string, names []design.Val[design.Name]) {
		first := map[design.Name]int{}
		for _, n := range names {
			if l, ok := first[n.V]; ok && n.V != "" {
				add("name-twice", n.At, fmt.Sprintf("the %s %q is listed in line %d already", what, n.V, l), "give one of the two another name")
				continue
			}
			first[n.V] = n.At.Line
		}
	}
	var printers, filaments, channels, designs []design.Val[design.Name]
	for _, p := range s.Printers {
		printers = append(printers, p.Name)
		out = append(out, machine(p)...)
		if p.Bed != nil && len(p.Bed) != 3 {
			add("value-wrong", p.At, fmt.Sprintf("bed: expected three lengths [x, y, z], found %d", len(p.Bed)), "write bed: [220, 220, 250]")
			continue
		}
		for _, b := range p.Bed {
			if b.V <= 0 || b.V > 5000 {
				add("value-wrong", b.At, fmt.Sprintf("bed: expected a length from 1 mm to 5000 mm, found %s", b.V), "check the unit")
			}
		}
	}
	for _, f := range s.Filaments {
		filaments = append(filaments, f.Name)
		out = append(out, reel(f)...)
	}
	groups := []string{"early", "public"}
	for _, a := range s.Audiences {
		groups = append(groups, string(a.Name.V))
	}
	for _, c := range s.Channels {
		channels = append(channels, c.Name)
		known := false
		for _, g := range groups {
			known = known || g == string(c.Audience.V)
		}
		if !known && c.Audience.V != "" {
			hint := "known: " + strings.Join(groups, ", ")
			if near := finding.Nearest(string(c.Audience.V), groups); near != "" {
				hint = "did you mean " + near + "?"
			}
			add("name-unknown", c.Audience.At, fmt.Sprintf("no audience is called %q", c.Audience.V), hint)
		}
		scheme, _, ok := strings.Cut(string(c.To.V), ":")
		if c.To.Set() && (!ok || !(scheme == "file" || scheme == "hand" || scheme == "s3" || scheme == "mem")) {
			found := fmt.Sprintf(", found %q", c.To.V)
			if strings.Contains(string(c.To.V), "@") { // perhaps a password
				found = ""
			}
			add("value-wrong", c.To.At, "expected a place such as file:../outbox/shelf, hand:../outbox/post or s3://bucket"+found, "begin with file:, hand: or s3:")
		}
	}
	for _, w := range s.Calendar.Designs {
		designs = append(designs, w.Design)
		if s.Calendar.Weeks.Set() && w.Week > int(s.Calendar.Weeks.V) {
			add("value-wrong", w.WeekAt, fmt.Sprintf("week %d is past the %d weeks of the season", w.Week, s.Calendar.Weeks.V), "raise weeks, or give the design a free week")
		}
	}
	for _, e := range s.Calendar.Overrides.Entries {
		found := false
		var names []string
		for _, d := range designs {
			found = found || string(d.V) == e.Key
			names = append(names, string(d.V))
		}
		if !found {
			hint := "give the design a week under designs first"
			if near := finding.Nearest(e.Key, names); near != "" {
				hint = "did you mean " + near + "?"
			}
			add("name-unknown", e.KeyAt, fmt.Sprintf("no design of the calendar is called %q", e.Key), hint)
		}
	}
	for _, l := range s.Calendar.Leave {
		if l.From.Set() && l.To.Set() && l.To.V.Compare(l.From.V) < 0 {
			add("value-wrong", l.To.At, fmt.Sprintf("leave ends on %s, before it begins on %s", l.To.V, l.From.V), "swap the two")
		}
	}
	if s.Accent.Set() {
		if c := design.Contrast(s.Accent.V, "#ffffff"); c < leastContrast {
			add("accent-faint", s.Accent.At, fmt.Sprintf("the accent %s has a contrast of %.1f to 1 with white paper; text needs %.1f", s.Accent.V, c, leastContrast),
				fmt.Sprintf("a shade that is dark enough: accent: %q", design.Darker(s.Accent.V, leastContrast)))
		}
	}
	out = append(out, s.Plan.judge()...)
	unique("printer", printers)
	unique("filament", filaments)
	unique("channel", channels)
	unique("design", designs)
	return append(out, manifest.CheckPrint(s.Print)...)
}

// leastContrast is what text must have with its ground: WCAG 2.2, 1.4.3.
const leastContrast = 4.5
