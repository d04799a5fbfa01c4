package adopt

import (
	"fmt"
	"path"
	"slices"
	"strings"
)

// about is what the folder says of the design as a whole.
type about struct {
	title, summary, licence       string
	titleBy, summaryBy, licenceBy origin
	code                          string // licence of the code
	codeBy                        origin
	photos                        []photo
	print                         wish
}

// photo is one picture of the finished thing.
type photo struct {
	file, alt string
	cover     bool
	by        origin
}

// readmeFirst orders texts: the readme of the folder itself first.
func readmeFirst(docs []doc) []doc {
	out := slices.Clone(docs)
	rank := func(d doc) int {
		n := strings.Count(d.file, "/") * 10
		base := strings.ToLower(path.Base(d.file))
		if !strings.HasPrefix(base, "readme") && !strings.HasPrefix(base, "index") {
			n += 5
		}
		return n
	}
	slices.SortStableFunc(out, func(a, b doc) int { return rank(a) - rank(b) })
	return out
}

var spdxLine = lazily(`(?i)^\s*(?:SPDX-|licen[cs]e\b|licen[cs]ed\b|©|copyright)`)

var urlShape = lazily(`https?://\S+`)

var (
	sentenceStop = lazily(`[.!?](?:\s|$)`)
	codeWord     = lazily(`(?i)\b(?:code|firmware|software|sketch|scripts?)\b`)
	modelWord    = lazily(`(?i)\b(?:models?|stl|design|mesh|hardware|everything|all)\b`)
	pictureShape = lazily(`!\[([^\]]*)\]\(<?([^)\s>]+)>?[^)]*\)|<img[^>]*src=["']([^"']+)["'][^>]*>`)
	altShape     = lazily(`alt=["']([^"']+)["']`)
	coverWord    = lazily(`front|cover|hero|main|title|overview|finished`)
)

// words finds title, summary, licence and photos.
func (r *reader) words() {
	docs := readmeFirst(r.docs)
	for _, d := range docs {
		for i, b := range d.blocks {
			if b.kind == heading && b.level <= 2 && r.about.title == "" && i < 3 && len(b.text) > 0 && len(b.text) <= 80 && sectionOf(b.text) == otherSection {
				r.about.title, r.about.titleBy = b.text, origin{fmt.Sprintf("%s:%d", d.file, b.line), Sure}
			}
			if r.about.summary == "" && b.kind == paragraph && i < 8 && (!startsCount(b.text) || strings.Contains(b.text, ". ") || strings.HasSuffix(b.text, ".")) && len(fastenersIn(b.text)) == 0 && len(b.text) >= 15 && len(r.filesIn(b.text)) == 0 {
				s := strings.TrimSpace(urlShape.ReplaceAllString(b.text, ""))
				if end := sentenceStop.FindStringIndex(s); end != nil {
					s = s[:end[0]+1]
				}
				if len(s) >= 15 && len(s) <= 240 && len(strings.Fields(s)) >= 3 && s != r.about.title && !strings.Contains(s, "](") && !spdxLine.MatchString(s) {
					r.about.summary, r.about.summaryBy = s, origin{fmt.Sprintf("%s:%d", d.file, b.line), Likely}
				}
			}
		}
		if r.about.title != "" && r.about.summary != "" {
			break
		}
	}
	if r.about.title == "" {
		for _, d := range docs { // a plain text begins with its title
			if len(d.lines) > 0 && len(d.blocks) > 0 && d.blocks[0].kind == paragraph && d.blocks[0].line <= 2 && len(d.lines[d.blocks[0].line-1]) <= 60 && !strings.HasSuffix(strings.TrimSpace(d.lines[d.blocks[0].line-1]), ".") {
				r.about.title, r.about.titleBy = inline(d.lines[d.blocks[0].line-1]), origin{fmt.Sprintf("%s:%d", d.file, d.blocks[0].line), Likely}
				break
			}
		}
	}
	for _, s := range r.solids {
		if r.about.title == "" && s.pack != nil && s.pack.title != "" && len(s.pack.title) <= 80 {
			r.about.title, r.about.titleBy = s.pack.title, origin{"the title in " + s.file, Guess}
		}
	}
	if r.about.summary == r.about.title {
		r.about.summary = ""
	}
	r.licence()
	r.photos()
}

// licenceShapes are the titles and short forms of licences, the longer before those they begin with. The titles
// are those of the licences' own texts; the ids are SPDX's.
var licenceShapes = []struct {
	shape *pattern
	id    string // $1 is the version
}{
	{lazily(`(?i)SPDX-License-Identifier:\s*([A-Za-z0-9.+-]+)`), "$1"},
	{lazily(`(?i)creative\s*commons(?:\s*\(?4\.0 international\)?)?[\s,:—–-]*attribution[\s,-]*non-?commercial[\s,-]*no-?deriv\w*(?:\s*works)?[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-NC-ND-$1"},
	{lazily(`(?i)creative\s*commons(?:\s*\(?4\.0 international\)?)?[\s,:—–-]*attribution[\s,-]*non-?commercial[\s,-]*share-?\s?alike[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-NC-SA-$1"},
	{lazily(`(?i)creative\s*commons[\s,:—–-]*attribution[\s,-]*non-?commercial[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-NC-$1"},
	{lazily(`(?i)creative\s*commons[\s,:—–-]*attribution[\s,-]*no-?deriv\w*(?:\s*works)?[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-ND-$1"},
	{lazily(`(?i)(?:creative\s*commons[\s,:—–-]*)?attribution[\s,-]*share-?\s?alike[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-SA-$1"},
	{lazily(`(?i)creative\s*commons[\s,:—–-]*attribution[\s,-]*(?:version\s*)?(\d\.\d)?`), "CC-BY-$1"},
	{lazily(`(?i)creativecommons\.org/publicdomain/zero/1\.0|\bCC-?\s?0(?:[- ]1\.0)?\b|creative\s*commons\s*zero`), "CC0-1.0"},
	{lazily(`(?i)creativecommons\.org/licenses/(by(?:-nc)?(?:-sa|-nd)?)/(\d\.\d)`), "CC-$U1-$2"},
	{lazily(`(?i)\bCC[\s-]*(BY(?:[\s-]*NC)?(?:[\s-]*(?:SA|ND))?)\b(?:[\s-]*v?(\d\.\d))?`), "CC-$U1-$2"},
	{lazily(`(?i)CERN[\s-]*(?:open hardware licen[cs]e|OHL)[\s,-]*(?:version\s*2(?:\.0)?|v?2(?:\.0)?)?[\s,–—-]*(?:strongly reciprocal|S\b)`), "CERN-OHL-S-2.0"},
	{lazily(`(?i)CERN[\s-]*(?:open hardware licen[cs]e|OHL)[\s,-]*(?:version\s*2(?:\.0)?|v?2(?:\.0)?)?[\s,–—-]*(?:weakly reciprocal|W\b)`), "CERN-OHL-W-2.0"},
	{lazily(`(?i)CERN[\s-]*(?:open hardware licen[cs]e|OHL)[\s,-]*(?:version\s*2(?:\.0)?|v?2(?:\.0)?)?[\s,–—-]*(?:permissive|P\b)`), "CERN-OHL-P-2.0"},
	{lazily(`(?i)GNU\s+AFFERO\s+GENERAL\s+PUBLIC\s+LICENSE|\bAGPL[\s-]*v?3`), "AGPL-3.0-or-later"},
	{lazily(`(?i)GNU\s+LESSER\s+GENERAL\s+PUBLIC\s+LICENSE|\bLGPL[\s-]*v?3`), "LGPL-3.0-or-later"},
	{lazily(`(?i)GNU\s+GENERAL\s+PUBLIC\s+LICENSE\s+Version\s+2|\bGPL[\s-]*v?2`), "GPL-2.0-or-later"},
	{lazily(`(?i)GNU\s+GENERAL\s+PUBLIC\s+LICENSE|\bGPL[\s-]*v?3`), "GPL-3.0-or-later"},
	{lazily(`(?i)\bApache\s+License[\s,]*(?:Version\s*)?2\.0|\bApache[\s-]2(?:\.0)?\b`), "Apache-2.0"},
	{lazily(`(?i)\bMIT\s+Licen[cs]e\b|Permission is hereby granted, free of charge, to any person obtaining a copy|\b(?:licen[cs]ed?|under)\s+(?:the\s+)?MIT\b`), "MIT"},
	{lazily(`(?i)\bBSD[\s-]*3[\s-]*clause\b|Neither the name of .{0,80} nor the names of`), "BSD-3-Clause"},
	{lazily(`(?i)\bBSD[\s-]*2[\s-]*clause\b`), "BSD-2-Clause"},
	{lazily(`(?i)This is free and unencumbered software released into the public domain`), "Unlicense"},
	{lazily(`(?i)Mozilla Public License[\s,]*(?:Version\s*)?2\.0|\bMPL[\s-]2\.0\b`), "MPL-2.0"},
}

// licenceIn is the first licence that a text speaks of, as an SPDX id. A Creative Commons licence without its
// version is taken for 4.0, and guessed is set.
func licenceIn(s string) (id string, guessed, ok bool) {
	at := len(s) + 1
	for _, l := range licenceShapes {
		m := l.shape.FindStringSubmatchIndex(s)
		if m == nil || m[0] >= at {
			continue
		}
		group := func(i int) string {
			if 2*i+1 < len(m) && m[2*i] >= 0 {
				return s[m[2*i]:m[2*i+1]]
			}
			return ""
		}
		x := l.id
		x = strings.ReplaceAll(x, "$U1", strings.ToUpper(strings.Join(splitWords(group(1)), "-")))
		x = strings.ReplaceAll(x, "$1", group(1))
		x = strings.ReplaceAll(x, "$2", group(2))
		g := false
		if strings.HasSuffix(x, "-") {
			x, g = x+"4.0", true
		}
		at, id, guessed, ok = m[0], x, g, true
	}
	return strings.TrimRight(id, "."), guessed, ok
}

// licence finds the licence: from a file of its text, from what the readme says, from 3MF files.
func (r *reader) licence() {
	type said struct {
		id    string
		by    origin
		code  bool
		at    string
		where int
		file  string
	}
	var all []said
	for _, t := range r.texts {
		isCode := strings.Contains(strings.ToLower(t.file), "firmware/") || strings.Contains(strings.ToLower(t.file), "code/") || strings.Contains(strings.ToLower(t.file), "src/") || strings.Contains(strings.ToLower(t.file), "software/") || strings.Contains(strings.ToLower(t.file), "arduino/")
		if t.kind == licenceFile {
			head := strings.Join(t.lines[:min(len(t.lines), 40)], " ")
			if id, guessed, ok := licenceIn(head); ok {
				sure := Sure
				if guessed {
					sure = Likely
				}
				all = append(all, said{id, origin{t.file, sure}, isCode, t.file, 1, t.file})
			}
			continue
		}
		if t.kind != proseFile {
			continue
		}
		under := false
		for i, l := range t.lines {
			lower := strings.ToLower(l)
			if hashHeading.MatchString(l) || shout(l) || i+1 < len(t.lines) && underline.MatchString(t.lines[i+1]) {
				under = sectionOf(l) == licenceSection
			}
			if !under && !strings.Contains(lower, "licen") && !strings.Contains(lower, "creativecommons") && !strings.Contains(lower, "cc-by") && !strings.Contains(lower, "cc by") && !strings.Contains(lower, "spdx") {
				continue
			}
			if strings.Contains(lower, "based on") || strings.Contains(lower, "remix") || strings.Contains(lower, "derived from") {
				continue // somebody else's work
			}
			if id, guessed, ok := licenceIn(l); ok {
				sure := Sure
				if guessed {
					sure = Likely
				}
				code := isCode || codeWord.MatchString(l) && !modelWord.MatchString(l)
				all = append(all, said{id, origin{fmt.Sprintf("%s:%d", t.file, i+1), sure}, code, fmt.Sprintf("%s:%d", t.file, i+1), i + 1, t.file})
			}
		}
	}
	for _, s := range r.solids {
		if s.pack != nil && s.pack.licence != "" {
			if id, _, ok := licenceIn(s.pack.licence); ok {
				all = append(all, said{id, origin{"LicenseTerms in " + s.file, Likely}, false, s.file, 0, s.file})
			}
		}
	}
	for _, s := range all {
		if s.code {
			if r.about.code == "" {
				r.about.code, r.about.codeBy = s.id, s.by
			}
			continue
		}
		switch {
		case r.about.licence == "":
			r.about.licence, r.about.licenceBy = s.id, s.by
		case r.about.licence != s.id:
			if len(s.id) > len(r.about.licence) && strings.HasPrefix(s.id, strings.TrimSuffix(r.about.licence, "4.0")) && r.about.licenceBy.sure < Sure {
				r.about.licence, r.about.licenceBy = s.id, s.by
				continue
			}
			r.about.licenceBy.sure = Guess
			at := r.placeOf(s.file)
			if s.where > 0 {
				at.Line, at.Column = s.where, 1
			}
			r.say("licence-other", at, fmt.Sprintf("%s speaks of %s, %s of %s", s.at, s.id, r.about.licenceBy.from, r.about.licence), "keep one of the two; with two licences nobody knows which one holds")
		default:
			if !strings.Contains(r.about.licenceBy.from, s.at) && strings.Count(r.about.licenceBy.from, ",") < 2 {
				r.about.licenceBy.from += ", " + s.at
			}
			r.about.licenceBy.sure = max(r.about.licenceBy.sure, s.by.sure)
		}
	}
	if r.about.licence == "" && r.about.code != "" && len(r.list.of(codeFile)) == 0 {
		r.about.licence, r.about.licenceBy, r.about.code = r.about.code, r.about.codeBy, ""
	}
}

// photos lists the pictures, with what the texts say they show.
func (r *reader) photos() {
	type shown struct {
		alt string
		by  string
	}
	alts := map[string]shown{}
	first := ""
	for _, d := range readmeFirst(r.docs) {
		for i, l := range d.lines {
			for _, m := range pictureShape.FindAllStringSubmatch(l, 20) {
				src := m[2] + m[3]
				if strings.Contains(src, "://") {
					continue
				}
				file := path.Clean(path.Join(path.Dir(d.file), src))
				if first == "" {
					first = file
				}
				alt := m[1]
				if a := altShape.FindStringSubmatch(m[0]); a != nil {
					alt = a[1]
				}
				if _, ok := alts[file]; !ok {
					alts[file] = shown{inline(alt), fmt.Sprintf("%s:%d", d.file, i+1)}
				}
			}
		}
	}
	inStep := map[string]bool{}
	for _, s := range r.assembly {
		if s.picture == "" {
			continue
		}
		d, _, _ := strings.Cut(s.by.from, ":")
		s.picture = path.Clean(path.Join(path.Dir(d), s.picture))
		if !r.isPhoto(s.picture) {
			s.picture = ""
			continue
		}
		inStep[s.picture] = true
	}
	cover := -1
	for _, f := range r.list.of(photoFile) {
		if nameOf(f.path, nil).old || inStep[f.path] || len(r.about.photos) >= 40 {
			continue
		}
		a := alts[f.path]
		p := photo{file: f.path, alt: a.alt, by: origin{"a picture of the folder", Likely}}
		if a.by != "" {
			p.by.from = a.by
		}
		base := strings.ToLower(path.Base(f.path))
		r.about.photos = append(r.about.photos, p)
		if f.path == first || cover < 0 && coverWord.MatchString(base) {
			cover = len(r.about.photos) - 1
		}
	}
	if cover >= 0 {
		r.about.photos[cover].cover = true
	}
}

func (r *reader) isPhoto(name string) bool {
	return slices.ContainsFunc(r.list.files, func(f file) bool { return f.path == name && f.kind == photoFile })
}
