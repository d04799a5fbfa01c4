package adopt

import (
	"slices"
	"strings"

	"dropwright/bundle/finding"
)

// entry is one line of a list, from a table or from a line of text.
type entry struct {
	at       finding.Place
	text     string // the whole line
	name     string
	files    []string // files that it names, as written
	count    quantity
	counted  bool
	per      []variantCount // counts by variant, from columns of their own
	colour   string
	material string
	size     string // size and length columns, for fasteners
	where    string // where it goes
	price    float64
	pack     int
	seconds  float64
	grams    float64
	print    wish
	mirrored int
	section  topic
	heading  string
	tabled   bool // from a table, which says more than a line
	printed  bool // the table speaks of printed parts
	taken    bool // it was understood as something
}

// variantCount is the count that a column gives for what its head names.
type variantCount struct {
	label string
	n     float64
}

// section is what a part of a text is about.
type topic int

const (
	otherSection topic = iota
	printSection
	buySection
	stepSection
	settingSection
	licenceSection
)

var sectionWords = []struct {
	kind  topic
	shape *pattern
}{
	{settingSection, lazily(`(?i)\b(?:print(?:ing|er)?|slicer?|slicing)\s*(?:settings?|notes?|parameters?|hints?|advice|tips)|\bsettings\b|\bhow to print\b|^print(?:ing)?$|druckeinstellungen`)},
	{licenceSection, lazily(`(?i)\blicen[cs]e\b|\bcopyright\b|lizenz`)},
	{stepSection, lazily(`(?i)\b(?:assembl\w*|build(?:ing)?|instructions?|steps?|how to (?:build|put|make)|putting it together|put it together|fitting|mounting|making it|zusammenbau|montage|aufbau|anleitung|making)\b`)},
	{buySection, lazily(`(?i)\b(?:hardware|fasteners?|screws?|bom|bill of materials?|shopping(?: list)?|to buy|bought|buy|purchase[ds]?|components?|electronics?|vitamins?|non-?printed|what you(?:'ll)? need|you(?:'ll)? need|materials? needed|parts? list|ingredients|other parts|einkaufsliste|stückliste)\b`)},
	{printSection, lazily(`(?i)\b(?:print(?:ed|able|s)?|stls?|meshes|models?|files?|druckteile|plastic parts)\b`)},
}

func sectionOf(heading string) topic {
	for _, s := range sectionWords {
		if s.shape.MatchString(heading) {
			// "Printed parts list" is about printed parts, "What to print and buy" about both
			if s.kind == buySection && sectionWords[4].shape.MatchString(heading) && !strings.Contains(strings.ToLower(heading), "non") {
				return printSection
			}
			return s.kind
		}
	}
	return otherSection
}

// track follows the headings of a text: what a line is about is said by the nearest heading above it that says
// so, as long as no heading of its level or above ends it.
type track struct{ stack []tracked }

type tracked struct {
	level int
	text  string
	kind  topic
}

func (t *track) heading(b block) {
	for len(t.stack) > 0 && t.stack[len(t.stack)-1].level >= b.level {
		t.stack = t.stack[:len(t.stack)-1]
	}
	t.stack = append(t.stack, tracked{b.level, b.text, sectionOf(b.text)})
}

func (t *track) section() topic {
	for i := len(t.stack) - 1; i >= 0; i-- {
		if i == 0 && len(t.stack) > 1 && t.stack[0].level == 1 {
			break // the title of the whole text says nothing of its parts
		}
		if t.stack[i].kind != otherSection {
			return t.stack[i].kind
		}
	}
	return otherSection
}

func (t *track) text() string {
	if len(t.stack) == 0 {
		return ""
	}
	return t.stack[len(t.stack)-1].text
}

// entriesOf takes all lists out of all texts.
func (r *reader) entriesOf() {
	for _, t := range r.texts {
		switch t.kind {
		case tableFile:
			r.tableEntries(fileTable(t), sectionOf(strings.ReplaceAll(strings.ReplaceAll(t.file, "_", " "), "-", " ")))
		case proseFile:
			d := doc{t, blocksOf(t)}
			r.docs = append(r.docs, d)
			var tr track
			for i, b := range d.blocks {
				switch b.kind {
				case heading:
					tr.heading(b)
				case tableBlock:
					r.tableEntries(b.table, tr.section())
				case item, paragraph:
					r.lineEntry(t, b, &tr, i)
				}
			}
		}
	}
}

// fileTable makes a table of a file of separated values: the head is the first row that is known by its words;
// what stands above it is a title.
func fileTable(t *text) *table {
	rows := separatedTable(t)
	out := &table{file: t.file, line: 1}
	for i, r := range rows[:min(len(rows), 8)] {
		if layoutOf(r.cells).known >= 2 {
			out.line, out.head, out.rows = r.line, r.cells, rows[i+1:]
			return out
		}
	}
	out.rows = rows
	return out
}

// tableEntries reads the rows of a table.
func (r *reader) tableEntries(t *table, about topic) {
	l := layoutOf(t.head)
	l.settle(t.rows)
	if l.known == 0 && l.find(fileColumn) < 0 && l.find(countColumn) < 0 {
		return
	}
	if l.find(nameColumn) < 0 && l.find(fileColumn) < 0 && l.find(sizeColumn) < 0 {
		r.settingTable(t, l)
		return
	}
	printed := l.find(fileColumn) >= 0 || l.find(infillColumn) >= 0 || l.find(wallsColumn) >= 0 || l.find(layerColumn) >= 0
	group := ""
	for _, row := range t.rows {
		e := &entry{at: finding.Place{File: t.file, Line: row.line, Column: 1}, section: about, heading: t.heading, tabled: true, printed: printed}
		filled := 0
		for i, c := range row.cells {
			if c != "" {
				filled++
			}
			if i < len(l.kinds) {
				r.put(e, l.kinds[i], l.rests[i], c)
			}
		}
		if filled == 0 {
			continue
		}
		e.text = strings.Join(row.cells, "  ") // two spaces: a figure of one cell is none of the next
		if filled == 1 && !e.counted {         // a row with one cell is a heading within the table
			group = row.cells[slices.IndexFunc(row.cells, func(c string) bool { return c != "" })]
			if s := sectionOf(group); s != otherSection {
				about, printed = s, printed && s != buySection
			}
			continue
		}
		if total.MatchString(e.name) {
			continue
		}
		if e.heading == "" {
			e.heading = group
		}
		r.finish(e)
	}
}

var total = lazily(`(?i)^\s*(?:sub)?-?\s*(?:total|sum|summe|gesamt)s?\b`)

// put takes one cell over.
func (r *reader) put(e *entry, k column, rest, c string) {
	if c == "" || c == "-" || c == "–" || c == "—" {
		return
	}
	switch k {
	case nameColumn:
		e.name = strings.TrimSpace(e.name + " " + c)
	case fileColumn:
		e.files = append(e.files, r.filesIn(c)...)
		if len(e.files) == 0 && !strings.Contains(c, " ") || e.name == "" && len(e.files) == 0 {
			e.files = append(e.files, c) // a name without its ending
		}
		if e.name == "" && len(e.files) > 0 {
			if n, _, ok := countBehind(c); ok && !e.counted {
				e.count, e.counted = quantity{n: n}, true
			}
		}
	case countColumn:
		q, ok := parseQuantity(c)
		if !ok {
			if m := mirroredCount.FindStringSubmatch(c); m != nil {
				a, _ := number(m[1])
				b := 1.0
				if m[2] != "" {
					b, _ = number(m[2])
				}
				e.count, e.counted, e.mirrored = quantity{n: a}, true, int(b)
			}
			return
		}
		if mirroredAll.MatchString(c) {
			e.mirrored = int(q.n)
		}
		if rest != "" && rest != "mm" && !quantityNoise[rest] {
			e.per = append(e.per, variantCount{rest, q.n})
			return
		}
		if !e.counted {
			e.count, e.counted = q, true
			e.pack = max(e.pack, q.pack)
		}
	case colourColumn:
		e.colour = c
	case materialColumn:
		e.material = c
	case sizeColumn, headColumn:
		e.size = strings.TrimSpace(e.size + " " + c)
	case lengthColumn:
		if _, ok := number(c); ok {
			c = "length " + c
		}
		e.size = strings.TrimSpace(e.size + " " + c)
	case whereColumn, noteColumn:
		e.where = strings.TrimSpace(e.where + " " + c)
		e.print.prose(c)
	case priceColumn:
		if v, ok := money(c); ok {
			e.price = v
		}
	case packColumn:
		if q, ok := parseQuantity(c); ok {
			e.pack = int(q.n)
		} else {
			e.pack = packOf(c)
		}
	case timeColumn:
		if s, ok := parseTime(c); ok {
			e.seconds = s
		}
	case gramsColumn:
		if q, ok := parseQuantity(strings.TrimSpace(strings.TrimSuffix(c, "g"))); ok {
			e.grams = q.n
		}
	case layerColumn:
		e.print.set("layer", c)
	case infillColumn:
		e.print.set("infill", c)
	case wallsColumn:
		e.print.set("walls", c)
	case supportsColumn:
		e.print.set("supports", c)
	case mirrorColumn:
		if q, ok := parseQuantity(c); ok {
			e.mirrored = int(q.n)
		}
	}
}

var quantityNoise = map[string]bool{"needed": true, "required": true, "total": true, "per": true, "of": true, "build": true, "to": true, "pcs": true, "used": true, "per unit": true, "per build": true, "per device": true, "to print": true, "each": true, "parts": true, "the": true}

var (
	mirroredCount = lazily(`(?i)^(\d+)\s*(?:x\s*)?(?:\+|and|,|plus|\()\s*(\d+)?\s*(?:x\s*)?(?:mirror(?:ed|ing)?|mirror image)`)
	mirroredAll   = lazily(`(?i)^\d+\s*(?:x\s*)?mirrored$`)
	mirrorProse   = lazily(`(?i)\b(?:(\d+|one|two|three|four)\s*(?:x|times)?\s*(?:of (?:it|them)\s*)?(?:as (?:a )?)?mirror(?:ed)?|mirror (?:the )?(?:other|second|one|(\d+))|(?:and|plus|\+)\s*(?:its|a|the|one|1)\s*mirror(?:ed)?(?: (?:image|copy|one))?|(?:other|second) (?:one )?(?:is )?mirrored|once mirrored|(?:one|1) mirrored)`)
	priceShape    = lazily(`(\d+(?:[.,]\d{1,3})*)`)
)

func money(s string) (float64, bool) {
	m := priceShape.FindString(s)
	v, ok := number(m)
	return v, ok && v < 1e6
}

// filesIn are the mesh, source and print files that a text names: those of the folder as they are called, whatever
// signs are in their names, then what looks like such a name.
func (r *reader) filesIn(s string) []string {
	var out []string
	lower := strings.ToLower(s)
	if len(lower) == len(s) && strings.Contains(s, ".") {
		for _, f := range r.spaced {
			for i := strings.Index(lower, f); i >= 0; i = strings.Index(lower, f) {
				out = append(out, s[i:i+len(f)])
				s = s[:i] + strings.Repeat(" ", len(f)) + s[i+len(f):]
				lower = lower[:i] + strings.Repeat(" ", len(f)) + lower[i+len(f):]
			}
		}
	}
	for _, m := range meshName.FindAllStringIndex(s, 50) {
		start := m[0]
		if i := strings.LastIndexByte(s[:start], ' '); strings.Contains(s[i+1:start], "://") {
			continue
		}
		out = append(out, strings.TrimLeft(s[start:m[1]], "(["))
	}
	return out
}

// lineEntry reads a line of a list: "4x M3x8 (lid)", "Arm (x2) - straw", "base.stl   1   red".
func (r *reader) lineEntry(t *text, b block, tr *track, index int) {
	s := tr.section()
	if s == stepSection || s == licenceSection || len(b.text) > 300 {
		return
	}
	if m := needLabel.FindStringIndex(b.text); m != nil && b.kind == paragraph && strings.ContainsAny(b.text[m[1]:], ",;") {
		r.runningList(t, b, b.text[m[1]:], tr)
		return
	}
	files := r.filesIn(b.text)
	n, rest, ahead := countAhead(b.text)
	if b.kind == paragraph && !ahead && len(files) == 0 && !(tabular(t.lines[b.line-1]) && s != settingSection) {
		return
	}
	if b.number > 0 && s != printSection && s != buySection {
		return
	}
	if b.kind == paragraph && len(files) > 0 && !ahead && len(strings.Fields(b.text)) > 14 && !tabular(t.lines[b.line-1]) {
		return // a sentence
	}
	if b.kind == paragraph && ahead && s == otherSection && len(files) == 0 && len(fastenersIn(b.text)) == 0 {
		return // a sentence that begins with a number
	}
	if s == settingSection && len(files) == 0 && !ahead {
		return
	}
	e := &entry{at: t.at(b.line, 1), text: b.text, section: s, heading: tr.text(), files: files}
	line := b.text
	if tabular(t.lines[b.line-1]) && len(t.lines[b.line-1]) < 400 {
		cells := columnGapSplit(strings.TrimSpace(t.lines[b.line-1]))
		for _, c := range cells {
			if q, ok := parseQuantity(inline(c)); ok && !e.counted {
				e.count, e.counted = q, true
			}
		}
	}
	name := line
	if ahead {
		e.count, e.counted, name = quantity{n: n}, true, rest
		if q, ok := parseQuantity(strings.TrimSpace(strings.SplitN(line, " ", 2)[0])); ok && q.unit != "" {
			e.count = q
		}
	}
	if m := lengthAhead.FindStringSubmatch(line); m != nil {
		if q, ok := parseQuantity(m[1]); ok && q.unit != "" {
			e.count, e.counted, name = q, true, m[2]
		}
	}
	if !e.counted && len(files) > 0 {
		if m := wordInside.FindStringSubmatch(line); m != nil {
			e.count, e.counted = quantity{n: spelled[strings.ToLower(m[1])]}, true
		}
	}
	if !e.counted {
		if m := quantityInside.FindStringSubmatchIndex(line); m != nil {
			for k := 1; k <= 4; k++ {
				if m[2*k] >= 0 {
					if v, ok := number(line[m[2*k]:m[2*k+1]]); ok && v > 0 {
						e.count, e.counted = quantity{n: v}, true
						name = strings.TrimSpace(line[:m[0]] + " " + line[m[1]:])
					}
					break
				}
			}
		} else if v, left, ok := countBehind(line); ok && v > 0 && v < 500 {
			e.count, e.counted, name = quantity{n: v}, true, left
		}
	}
	e.name, e.where = splitName(name)
	e.pack = packOf(line)
	e.print.prose(line)
	r.finish(e)
}

// runningList reads the things of a sentence such as "Also needed: 3x M4x16 for the feet, 8 magnets 6x3, a rod".
func (r *reader) runningList(t *text, b block, rest string, tr *track) {
	if end := sentenceEnd.FindStringIndex(rest); end != nil {
		rest = rest[:end[0]]
	}
	for _, piece := range listSplit.Split(rest, 60) {
		piece = strings.TrimSpace(strings.TrimRight(piece, ". "))
		if len(piece) < 3 || len(piece) > 120 {
			continue
		}
		e := &entry{at: t.at(b.line, 1), text: piece, section: buySection, heading: tr.text(), files: r.filesIn(piece)}
		name := piece
		if n, rest, ok := countAhead(piece); ok {
			e.count, e.counted, name = quantity{n: n}, true, rest
		} else if m := oneAhead.FindStringSubmatch(piece); m != nil {
			e.count, e.counted, name = quantity{n: 1}, true, m[1]
		}
		e.name, e.where = splitName(name)
		r.finish(e)
	}
}

var (
	needLabel  = lazily(`(?i)^(?:also |you(?:'ll)? |what )?(?:needed|need|you need|hardware|other parts|bom|to buy|buy|shopping list|fasteners|screws)(?: also| too)?\s*:\s*`)
	listSplit  = lazily(`[,;]\s+(?:and\s+)?|\s+and\s+`)
	oneAhead   = lazily(`(?i)^(?:an?|the)\s+(.*)$`)
	wordInside = lazily(`(?i)(?:[-–—:,(]|\s)\s*(` + numberWords + `)\b(?:\s+of\s+(?:them|these))?\s*(?:[,;.)]|$)`)
)

var (
	lengthAhead    = lazily(`(?i)^\s*(\d[\d.,]*\s*(?:mm|cm|m|metres?|meters?|g))\s+(?:of\s+)?(.*)$`)
	quantityInside = lazily(`(?i)(?:[\s(\[,:;–—-]|^)(?:[x×]\s?(\d{1,4})|(\d{1,4})\s?[x×](?:\s*$|[\s),;])|(\d{1,4})\s*(?:pcs?|pieces?|off|copies|times)\b|(?:qty|quantity|print|need)\.?:?\s*(\d{1,4})\b)\s*[)\]]?`)
	nameEnd        = lazily(`\s+[–—-]\s+|\s*:\s+|;\s+|\s+\(|,\s+`)
	gapShape       = lazily(`\t+|\s{3,}`)
)

func columnGapSplit(s string) []string { return gapShape.Split(s, maxCells) }

// splitName takes the name of a thing from what is said about it.
func splitName(s string) (name, rest string) {
	s = strings.TrimSpace(strings.TrimLeft(s, "-–—:,. "))
	if m := nameEnd.FindStringIndex(s); m != nil && m[0] > 0 {
		return strings.TrimSpace(s[:m[0]]), strings.Trim(s[m[1]:], " )")
	}
	return s, ""
}

// finish looks at what the line says as a whole, and keeps it.
func (r *reader) finish(e *entry) {
	if len(r.entries) >= maxLines {
		return
	}
	if len(e.files) == 0 {
		e.files = r.filesIn(e.text)
	}
	if e.colour == "" && (e.printed || e.section == printSection || len(e.files) > 0 || r.printedToo(e)) {
		e.colour = colourIn(e.name+" "+e.where+" "+e.text, r.opt.colours())
	}
	if e.mirrored == 0 {
		if m := mirrorProse.FindStringSubmatch(e.text); m != nil {
			e.mirrored = 1
			for _, g := range m[1:] {
				if v, ok := number(g); ok {
					e.mirrored = int(v)
				}
			}
		}
	}
	if e.pack == 0 {
		e.pack = packOf(e.text)
	}
	r.entries = append(r.entries, e)
}

// colourIn finds the first colour that a text names: a filament of the series, or a word for a colour.
func colourIn(s string, filaments []string) string {
	w := splitWords(s)
	for _, list := range [][]string{filaments, colourWords} {
		for _, x := range w {
			if slices.Contains(list, x) {
				return x
			}
		}
	}
	return ""
}
