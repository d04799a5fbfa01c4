package adopt

import (
	"cmp"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

// Draft is what a folder says of a design.
type Draft struct {
	// Manifest is the text of a design.yaml with where each value came from and how sure it is.
	Manifest []byte
	// Findings are what in the folder contradicts what, the gravest first. Their files are as Options.Shown
	// has them.
	Findings []finding.Finding
	// Texts are the texts that findings point into, by their shown paths.
	Texts []*source.Text
	// Notes are what was not read, followed or looked at.
	Notes []string
	// Values are the proposed values with their certainty, in the order of the manifest.
	Values []Value
	// Left are the files that the manifest does not name, each with why.
	Left []Left

	about [][]string // by finding: what it is about
}

// Value is one proposed value.
type Value struct {
	Path string // "parts.case.copies"
	Text string // as the manifest has it
	From string // where it came from
	Sure Certainty
}

// Left is a file that found no place in the manifest.
type Left struct {
	File, Why string
}

// draft writes everything down.
func (r *reader) draft() *Draft {
	d := &Draft{Notes: r.list.notes}
	w := &yamlWriter{}
	r.manifest(w)
	d.Manifest = []byte(w.String())
	d.Values = w.values
	for i, f := range r.findings {
		f.At.File = path.Join(r.opt.Shown, f.At.File)
		d.Findings = append(d.Findings, f)
		d.about = append(d.about, r.subjects[i])
	}
	order := make([]int, len(d.Findings))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := d.Findings[a], d.Findings[b]
		return cmp.Or(cmp.Compare(matter(x), matter(y)), cmp.Compare(x.At.File, y.At.File), cmp.Compare(x.At.Line, y.At.Line), cmp.Compare(x.Text, y.Text))
	})
	found, about := d.Findings, d.about
	d.Findings, d.about = nil, nil
	for _, i := range order {
		d.Findings, d.about = append(d.Findings, found[i]), append(d.about, about[i])
	}
	for _, t := range r.texts {
		d.Texts = append(d.Texts, source.NewText(path.Join(r.opt.Shown, t.file), []byte(strings.Join(t.lines, "\n"))))
	}
	d.Left = r.left()
	return d
}

// left are the files that the manifest does not name.
func (r *reader) left() []Left {
	var out []Left
	named := map[string]bool{}
	for _, p := range r.parts {
		for _, f := range append(p.files(), p.from...) {
			if p.pair == nil || f != p.pair.file {
				named[f] = true
			}
		}
		named[p.toolpath] = true
		if p.pair != nil && !named[p.pair.file] {
			out = append(out, Left{p.pair.file, "the mirror image of " + p.files()[0]})
			named[p.pair.file] = true
		}
	}
	for _, l := range r.leftOut {
		out = append(out, Left{l.file, l.why})
		named[l.file] = true
	}
	for _, s := range r.solids {
		if !named[s.file] {
			why := "the same shape as another file"
			if s.facts.Error != "" {
				why = s.facts.Error
			}
			out = append(out, Left{s.file, why})
			named[s.file] = true
		}
	}
	for _, f := range r.list.of(unreadFile) {
		out = append(out, Left{f.path, "of a kind that is not read: " + strings.ToLower(path.Ext(f.path))})
	}
	slices.SortFunc(out, func(a, b Left) int { return cmp.Compare(a.File, b.File) })
	return out
}

// families group the codes that say one thing of different sides.
var families = map[string]int{
	"count-short": 1, "count-over": 1, "joint-unlisted": 1, "item-unused": 1, "hole-missing": 1, "hole-unused": 1,
	"unit-suspect": 2, "unit-wrong": 2,
	"mesh-twice": 3, "side-twice": 3, "variant-same": 3,
	"insert-hole-narrow": 4, "insert-hole-wide": 4,
	"mesh-missing": 5, "file-missing": 5, "mention-unknown": 5,
	"licence-other": 6,
}

// matter is the order in which findings of a freshly adopted folder are worth reading: what contradicts what
// first, then what would stop a builder, then what is not written yet.
func matter(f finding.Finding) int {
	switch families[f.Code] {
	case 1:
		return 0
	case 4, 5, 2:
		return 1
	case 3:
		return 2
	case 6:
		return 3
	}
	switch {
	case unwritten[f.Code]:
		return 9
	case f.Level == finding.Error:
		return 4
	case f.Level == finding.Warning:
		return 5
	}
	return 8
}

// unwritten are codes of what a maker has not written yet, and could not have before there was a manifest.
var unwritten = map[string]bool{"story-missing": true, "photo-missing": true, "alt-missing": true, "placeholder-left": true, "steps-missing": true, "step-bare": true, "licence-missing": true, "trial-missing": true, "board-revision-missing": true,
	"colour-missing": true, "filament-missing": true, "print-missing": true, "file-unlisted": true, "name-bare": true, "stand-better": true, "licence-partial": true, "source-missing": true, "mesh-off-bed": true, "seat-ambiguous": true, "bed-common": true}

// Rank puts the findings of the folder and those of check on the drafted manifest into one list, the ones that
// matter most first. What the folder's own finding says already is not said again of the draft.
func (d *Draft) Rank(checked []finding.Finding) []finding.Finding {
	out := slices.Clone(d.Findings)
next:
	for _, f := range checked {
		for i, own := range d.Findings {
			if families[f.Code] == 0 || families[f.Code] != families[own.Code] {
				continue
			}
			for _, s := range d.about[i] {
				if s != "" && strings.Contains(strings.ToLower(f.Text), strings.ToLower(s)) {
					continue next
				}
			}
		}
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b finding.Finding) int { return cmp.Compare(matter(a), matter(b)) })
	return out
}

// Sums counts the proposed values by certainty.
func (d *Draft) Sums() (sure, likely, guess int) {
	for _, v := range d.Values {
		switch v.Sure {
		case Sure:
			sure++
		case Likely:
			likely++
		default:
			guess++
		}
	}
	return
}

// Contradicts reports whether findings of a code say that two things of a folder contradict one another, rather
// than that something is not written yet or could be better.
func Contradicts(code string) bool { return families[code] != 0 || joinery[code] }

// joinery are the codes by which check finds that fasteners, holes and boards do not go together.
var joinery = map[string]bool{"screw-short": true, "screw-long": true, "screw-proud": true, "screw-unmade": true, "hole-narrow": true, "hole-wide": true, "hole-loose": true, "hole-offset": true, "hole-uneven": true, "boss-missing": true, "thread-differs": true,
	"nut-pocket-missing": true, "nut-pocket-narrow": true, "nut-pocket-wide": true, "nut-pocket-shallow": true, "insert-hole-shallow": true, "insert-wall-thin": true, "seat-missing": true, "seat-off": true, "seat-mirrored": true, "mount-missed": true, "size-unlisted": true, "setting-unlisted": true, "settings-clash": true, "name-unknown": true, "part-size-differs": true, "mesh-unreadable": true, "bought-size-differs": true}
