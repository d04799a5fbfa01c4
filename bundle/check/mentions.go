package check

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// prose is one text that people read: a Markdown file, or a text of the manifest.
type prose struct {
	name string // what it is called in findings
	file string // of a Markdown file, in the design's folder; "" for a text of the manifest
	body string
	at   finding.Place // of a text of the manifest; of a file, where the manifest names it
	path string        // of a file, as shown in findings
}

// place is where the bytes from to end of a text stand: in the Markdown file itself, or at the manifest's text.
func (p prose) place(from, to int) finding.Place {
	if p.file == "" {
		return p.at
	}
	line := 1 + strings.Count(p.body[:from], "\n")
	start := strings.LastIndexByte(p.body[:from], '\n') + 1
	return finding.Place{File: p.path, Line: line, Column: from - start + 1, Width: to - from}
}

// texts lists what people read of a design, once each.
func texts(in *Input) []prose {
	d := in.Design
	var out []prose
	done := map[design.Path]bool{}
	file := func(f design.Path, at finding.Place) {
		if body, ok := in.Facts.Text(string(f)); ok && !done[f] {
			done[f] = true
			body = strings.ReplaceAll(strings.TrimPrefix(body, "\ufeff"), "\r\n", "\n")
			out = append(out, prose{string(f), string(f), body, at, path.Join(path.Dir(d.File), string(f))})
		}
	}
	plain := func(name string, v design.Val[design.Text]) {
		if v.Set() {
			out = append(out, prose{name: name, body: string(v.V), at: v.At})
		}
	}
	plain("the summary", d.Summary)
	if d.Story.Set() {
		file(d.Story.V, d.Story.At)
	}
	for i, s := range d.Assembly {
		plain(fmt.Sprintf("the title of step %d", i+1), s.Title)
		if f, ok := s.TextFile(); ok {
			file(f, s.Text.At)
		} else {
			plain(fmt.Sprintf("step %d", i+1), s.Text)
		}
	}
	for _, e := range d.Extras { // guides and tables that go out as they lie there
		file(e.File.V, e.File.At)
	}
	return out
}

// fileShape is a file name as texts write it. Only endings of files that a design is made of count.
var fileShape = regexp.MustCompile(`(?i)[\w.+-]+(?:/[\w.+-]+)*\.(?:stl|3mf|obj|step|stp|iges|igs|scad|fcstd|f3d|dxf|gcode)\b`)

// filesInTexts: texts name no file that is not there.
func filesInTexts(in *Input, r *report) {
	known := map[string]bool{}
	var bases []string
	for _, f := range in.Facts.Files {
		if f.Problem == "" || f.Named { // one that is named and missing is said by files
			known[strings.ToLower(path.Base(f.Path))] = true
			bases = append(bases, path.Base(f.Path))
		}
	}
	for _, x := range texts(in) {
		done := map[string]bool{}
		for _, m := range fileShape.FindAllStringIndex(x.body, -1) {
			name := x.body[m[0]:m[1]]
			base := strings.ToLower(path.Base(name))
			if known[base] || done[base] || inAddress(x.body, m[0]) {
				continue
			}
			done[base] = true
			hint := "mend the text, or add the file; a part's own name survives a new file name"
			if near := finding.Nearest(path.Base(name), bases); near != "" {
				hint = "did you mean " + near + "?"
			}
			r.add("mention-unknown", x.place(m[0], m[1]), "", fmt.Sprintf("%s speaks of %s, which is not there", x.name, name), hint)
		}
	}
}

// inAddress reports whether what stands at i belongs to a web address.
func inAddress(body string, i int) bool {
	start := strings.LastIndexFunc(body[:i], unicode.IsSpace) + 1
	return strings.Contains(body[start:i], "://")
}

// linkShape is a Markdown link or picture with its target: [text](target "title").
var linkShape = regexp.MustCompile(`\]\(<?([^)\s<>]+)>?(?:\s+"[^"]*")?\)`)

// The other forms of a link in Markdown: a reference's target, [name]: target (CommonMark, section 4.7), and HTML.
var (
	referenceShape = regexp.MustCompile(`(?m)^ {0,3}\[[^\]\n^][^\]\n]*\]:[ \t]*<?([^\s<>]+)>?`)
	markupShape    = regexp.MustCompile(`(?i)<(?:a|img)\b[^<>]*?\b(?:href|src)\s*=\s*["']([^"'<>]+)["']`)
)

// links: links and pictures of the story and the steps lead to files that go out, or to headings.
func links(in *Input, r *report) {
	for _, x := range texts(in) {
		if x.file == "" {
			continue
		}
		blank := withoutCode(x.body)
		found := slices.Concat(linkShape.FindAllStringSubmatchIndex(blank, -1), referenceShape.FindAllStringSubmatchIndex(blank, -1), markupShape.FindAllStringSubmatchIndex(blank, -1))
		for _, m := range found {
			target := x.body[m[2]:m[3]]
			at := x.place(m[2], m[3])
			name, anchor, _ := strings.Cut(target, "#")
			switch {
			case strings.Contains(target, ":"): // https:, mailto:
			case name == "" && !slices.Contains(headings(x.body), strings.ToLower(anchor)):
				r.add("link-broken", at, "", fmt.Sprintf("%s has no heading %q", x.name, anchor), "mend the link, or the heading")
			case name == "":
			case strings.HasPrefix(name, "/"):
				r.add("link-broken", at, "", fmt.Sprintf("%s links to %s, from outside the design's folder", x.name, name), "name a file of the design, from the text's own folder")
			default:
				judgeLink(in, x, name, at, r)
			}
		}
	}
}

func judgeLink(in *Input, x prose, name string, at finding.Place, r *report) {
	full := path.Join(path.Dir(x.file), name)
	f, ok := in.Facts.File(full)
	switch {
	case !ok || f.Problem != "" && !f.Named:
		hint := "mend the link, or add the file"
		if near := nearestFile(in.Facts, full); near != "" {
			hint = "did you mean " + near + "?"
		}
		r.add("link-broken", at, "", fmt.Sprintf("%s links to %s, which is not there", x.name, full), hint)
	case !f.Named:
		r.add("link-broken", at, "", fmt.Sprintf("%s links to %s, which no bundle holds", x.name, full), fmt.Sprintf("add {file: %s} to extras or photos", full))
	}
}

// withoutCode blanks code spans and fenced blocks, byte by byte, so that places stay.
func withoutCode(s string) string {
	b := []byte(s)
	fence := false
	for start := 0; start < len(b); {
		end := start + strings.IndexByte(s[start:]+"\n", '\n')
		line := strings.TrimSpace(s[start:end])
		mark := strings.HasPrefix(line, "```") || strings.HasPrefix(line, "~~~")
		if fence || mark {
			blank(b[start:end])
		} else {
			for i := start; i < end; i++ {
				if b[i] != '`' {
					continue
				}
				k := strings.IndexByte(s[i+1:end], '`')
				if k < 0 {
					break
				}
				blank(b[i : i+k+2])
				i += k + 1
			}
		}
		if mark {
			fence = !fence
		}
		start = end + 1
	}
	return string(b)
}

func blank(b []byte) {
	for i := range b {
		b[i] = ' '
	}
}

// headings are the anchors of a Markdown text: headings in lower case, spaces as hyphens, marks dropped.
func headings(s string) []string {
	var out []string
	for line := range strings.Lines(s) {
		if !strings.HasPrefix(line, "#") {
			continue
		}
		line = strings.TrimSpace(strings.TrimLeft(line, "#"))
		out = append(out, strings.Map(func(r rune) rune {
			switch {
			case r == ' ':
				return '-'
			case unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '_':
				return unicode.ToLower(r)
			}
			return -1
		}, line))
	}
	return out
}

// The settings that texts name: "20 % infill", "infill of 20 %", "4 perimeters", "walls: 4", "0.3 mm layers",
// "layer height 0.3".
var settingShapes = []struct {
	what  string
	shape *regexp.Regexp
}{
	{"infill", regexp.MustCompile(`(?i)\b(\d{1,3})\s?%\s+(?:infill|filled)\b`)},
	{"infill", regexp.MustCompile(`(?i)\binfill(?:\s+of|\s+at|:|\s*=)?\s+(\d{1,3})\s?%`)},
	{"walls", regexp.MustCompile(`(?i)\b(\d{1,2})\s+(?:perimeters|wall lines|wall loops)\b`)},
	{"walls", regexp.MustCompile(`(?i)\b(?:perimeters|walls)(?::|\s*=)\s*(\d{1,2})\b`)},
	{"layer", regexp.MustCompile(`(?i)\b(0[.,]\d{1,3})\s?mm\s+layers?\b`)},
	{"layer", regexp.MustCompile(`(?i)\blayer height(?:\s+of|:|\s*=)?\s+(0[.,]\d{1,3})\b`)},
}

// settingsInTexts: texts name no print setting that the lists do not hold.
func settingsInTexts(in *Input, r *report) {
	known := map[string]map[string]bool{"infill": {}, "walls": {}, "layer": {}}
	for _, p := range in.Design.Parts {
		s := p.Print.Over(in.House.Print)
		known["infill"][unit.Number(float64(s.Infill.V)*100)] = true
		known["walls"][strconv.Itoa(int(s.Walls.V))] = true
		known["layer"][unit.Number(float64(s.Layer.V))] = true
	}
	for _, x := range texts(in) {
		for _, k := range settingShapes {
			for _, m := range k.shape.FindAllStringSubmatchIndex(x.body, -1) {
				v, err := strconv.ParseFloat(strings.ReplaceAll(x.body[m[2]:m[3]], ",", "."), 64)
				if err != nil || known[k.what][unit.Number(v)] {
					continue
				}
				var have []string
				for s := range known[k.what] {
					have = append(have, s)
				}
				slices.Sort(have)
				r.add("setting-unlisted", x.place(m[0], m[1]), "", fmt.Sprintf("%s says %q; the manifest's %s: %s", x.name, x.body[m[0]:m[1]], k.what, strings.Join(have, ", ")), "mend the text, or the part's print settings; better, leave figures to the list: the sheet prints them")
			}
		}
	}
}
