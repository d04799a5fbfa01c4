package compare

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"dropwright/bundle/mesh/same"
)

// lines compares two lists by key, in the order of the newer one.
func lines(a, b []Line, variant string) []LineChange {
	var out []LineChange
	at := func(list []Line, key string) int {
		return slices.IndexFunc(list, func(l Line) bool { return l.Key == key })
	}
	for _, l := range b {
		switch i := at(a, l.Key); {
		case i < 0:
			out = append(out, LineChange{Name: l.Key, Variant: variant, Change: Added, To: l.Text})
		case a[i].Text != l.Text:
			out = append(out, LineChange{Name: l.Key, Variant: variant, Change: Changed, From: a[i].Text, To: l.Text})
		}
	}
	for _, l := range a {
		if at(b, l.Key) < 0 {
			out = append(out, LineChange{Name: l.Key, Variant: variant, Change: Removed, From: l.Text})
		}
	}
	return out
}

// mergeParts folds verdicts that are alike in every variant into one, which keeps the shapes of the first.
func mergeParts(all []PartChange, variants int) []PartChange {
	return merged(all, variants, func(c PartChange) PartChange { c.Variant = ""; return c },
		func(c PartChange) PartChange { c.Found, c.Meshes = same.Result{}, [2]string{}; return c })
}

func mergeLines(all []LineChange, variants int) []LineChange {
	return merged(all, variants, func(c LineChange) LineChange { c.Variant = ""; return c }, func(c LineChange) LineChange { return c })
}

// merged folds what is in all variants into one. bare takes the variant away, said what else does not count when two are
// compared.
func merged[T any](all []T, variants int, bare, said func(T) T) []T {
	out := []T{}
	alike := func(x, y T) bool { return reflect.DeepEqual(said(bare(x)), said(bare(y))) }
	for _, x := range all {
		n := 0
		for _, y := range all {
			if alike(x, y) {
				n++
			}
		}
		switch {
		case n < variants:
			out = append(out, x)
		case !slices.ContainsFunc(out, func(y T) bool { return alike(x, y) }):
			out = append(out, bare(x))
		}
	}
	return out
}

// Same reports whether nothing changed that a builder would notice.
func (d Diff) Same() bool {
	for _, p := range d.Parts {
		if p.Change != Same || p.Was != "" || p.Reprint != No {
			return false
		}
	}
	return len(d.Fasteners)+len(d.Bought)+len(d.Wiring)+len(d.Settings)+len(d.Steps)+len(d.Variants) == 0
}

// Level proposes by how much to raise the revision, "major", "minor" or "patch", and says why. A part is gone, is
// the other hand, or has its holes elsewhere: printed parts may no longer mate, so major. A part or variant is
// new: minor. Whether parts whose shape changed otherwise still mate, only the maker knows; patch is proposed.
func Level(d Diff) (level, why string) {
	for _, v := range d.Variants {
		if v.Change == Removed {
			return "major", fmt.Sprintf("the variant %s is gone", v.Name)
		}
	}
	for _, p := range d.Parts {
		switch {
		case p.Change == Removed && p.grave:
			return "major", fmt.Sprintf("the part %s is gone, and others were joined to it", p.Part)
		case p.Change == Mirrored && p.grave:
			return "major", fmt.Sprintf("%s is the other hand now", p.Part)
		case p.Change == Changed && p.Reprint == Yes && p.moves && p.grave:
			return "major", fmt.Sprintf("holes of %s came, went or moved, and others are joined to it", p.Part)
		}
	}
	for _, v := range d.Variants {
		if v.Change == Added {
			return "minor", fmt.Sprintf("the variant %s is new", v.Name)
		}
	}
	for _, p := range d.Parts {
		switch p.Change {
		case Added:
			return "minor", fmt.Sprintf("the part %s is new", p.Part)
		case Removed:
			return "minor", fmt.Sprintf("the part %s is gone", p.Part)
		}
	}
	for _, p := range d.Parts {
		if p.Change == Changed && p.Reprint != No {
			return "patch", fmt.Sprintf("%s changed; write major if it no longer mates with parts printed before", p.Part)
		}
	}
	if d.Same() {
		return "patch", "nothing changed that a builder would notice"
	}
	return "patch", "the parts are those of before"
}

// Draft is the text of CHANGES to begin from: one line for each thing, what builders must do first.
func Draft(d Diff) []string {
	var out []string
	add := func(variant, format string, args ...any) {
		if variant != "" {
			variant = variant + ": "
		}
		out = append(out, variant+fmt.Sprintf(format, args...))
	}
	for _, v := range d.Variants {
		add("", "variant %s: %s", v.Name, v.Change)
	}
	for _, answer := range []string{Yes, OnlyIf, No} {
		for _, p := range d.Parts {
			if p.Reprint != answer || p.Change == Same && p.Was == "" && answer == No {
				continue
			}
			what := p.Change
			if p.Was != "" {
				what += ", was called " + p.Was
			}
			add(p.Variant, "%s: %s; reprint: %s, %s", p.Part, what, strings.ReplaceAll(p.Reprint, "-", " "), strings.TrimPrefix(p.Why, "only if "))
		}
	}
	for _, l := range []struct {
		what string
		list []LineChange
	}{{"fastener", d.Fasteners}, {"bought", d.Bought}, {"wire", d.Wiring}, {"setting", d.Settings}, {"step", d.Steps}} {
		for _, c := range l.list {
			switch c.Change {
			case Added:
				add(c.Variant, "%s %s: new: %s", l.what, c.Name, c.To)
			case Removed:
				add(c.Variant, "%s %s: gone: %s", l.what, c.Name, c.From)
			default:
				add(c.Variant, "%s %s: %s, was %s", l.what, c.Name, c.To, c.From)
			}
		}
	}
	return out
}
