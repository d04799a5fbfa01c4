package adopt

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"dropwright/bundle/finding"
)

// step is one assembly step of the proposal.
type step struct {
	title   string
	text    string
	uses    []use
	tools   []string
	picture string
	alt     string
	by      origin
	at      finding.Place
	only    []string
	times   int
}

// use is one thing that a step uses up.
type use struct {
	name  string
	n     float64
	said  bool // the text says how many
	guess bool // the text does not name it at all
}

func (s *step) use(name string) *use {
	for i := range s.uses {
		if s.uses[i].name == name {
			return &s.uses[i]
		}
	}
	return nil
}

func (s *step) add(name string, n float64, said, guess bool) {
	if u := s.use(name); u != nil {
		u.n += n
		u.said = u.said && said
		return
	}
	s.uses = append(s.uses, use{name, n, said, guess})
}

// mostSteps bounds the steps that are taken over.
const mostSteps = 150

// steps makes the assembly from headings and numbered lists, and works out what each uses up.
func (r *reader) steps() {
	r.leftFasteners()
	var best []*step
	for _, loose := range []bool{false, true} {
		for _, d := range r.docs {
			if s := r.stepsOf(d, loose); len(s) > len(best) && len(best) < 2 || len(s) > len(best)+2 {
				best = s
			}
		}
		if len(best) > 0 {
			break
		}
	}
	r.assembly = best
	if len(r.assembly) > mostSteps {
		r.assembly = r.assembly[:mostSteps]
	}
	r.count()
	r.place()
}

var (
	stepFile = lazily(`(?i)^(?:build|assembly|instructions?|steps|guide|montage)`)
)

// stepsOf are the steps of one text: under headings that say so, or, with anywhere, the numbered list that stands
// outside of the lists of parts.
func (r *reader) stepsOf(d doc, anywhere bool) []*step {
	var out []*step
	var tr track
	var open *step
	headed := false  // the open step began with a heading
	grouped := false // the open step's heading is that of a group, as far as is known
	margin := -1     // of the first numbered item
	loose, numbers := 0, 0
	for _, b := range d.blocks {
		if b.kind == item && strings.HasPrefix(strings.ToLower(strings.TrimSpace(d.lines[b.line-1])), "step ") {
			loose++
		}
	}
	for _, b := range d.blocks {
		if b.number > 0 {
			numbers++
		}
	}
	if anywhere && numbers < 2 {
		return nil
	}
	begin := func(title, text string, line int) {
		open = &step{title: title, text: text, by: origin{fmt.Sprintf("%s:%d", d.file, line), Likely}, at: d.at(line, 1), times: 1}
		out = append(out, open)
	}
	wholeFile := stepFile.MatchString(path.Base(d.file))
	for _, b := range d.blocks {
		if b.kind == heading {
			tr.heading(b)
			s := tr.section()
			if wholeFile && s == otherSection {
				s = stepSection
			}
			if s != stepSection {
				open, headed = nil, false
				continue
			}
			own := sectionOf(b.text)
			m := numberedHead.FindStringSubmatch(b.text)
			if m == nil && (own == stepSection && !headed || len(tr.stack) < 2) { // the head of the section itself
				open, headed = nil, false
				continue
			}
			title := b.text
			if m != nil && m[2] != "" {
				title = m[2]
			}
			begin(title, "", b.line)
			headed, grouped, margin = true, m == nil, -1
			continue
		}
		in := tr.section() == stepSection || wholeFile && tr.section() == otherSection
		if anywhere && b.number > 0 && tr.section() != printSection && tr.section() != buySection && tr.section() != settingSection {
			in = true
		}
		isStep := b.kind == item && strings.HasPrefix(strings.ToLower(strings.TrimLeft(d.lines[b.line-1], " *_")), "step ") && loose > 1
		if !in && !isStep {
			continue
		}
		switch {
		case b.kind == picture:
			if open != nil && open.picture == "" {
				open.picture, open.alt = b.file, b.text
			}
		case b.kind == tableBlock:
		case b.kind == item && (!headed || grouped && b.number > 0) && (margin < 0 || b.level <= margin+1) && (b.number > 0 || isStep || numbers == 0):
			if headed && grouped && open != nil && len(out) > 0 { // numbered steps under a heading: it names their group
				if open.text == "" {
					out = out[:len(out)-1]
				}
				headed = false
			}
			margin = b.level
			title, text := titleOf(b.text)
			begin(title, text, b.line)
		case open != nil:
			if _, _, ok := licenceIn(b.text); ok && b.kind == paragraph {
				open = nil // the steps are over
				continue
			}
			open.text = strings.TrimSpace(open.text + " " + b.text)
		}
	}
	out = slices.DeleteFunc(out, func(s *step) bool { return s.text == "" && len(splitWords(s.title)) < 2 })
	for _, s := range out {
		if len(s.text) > 1500 {
			s.text = strings.ToValidUTF8(s.text[:1500], "") + " …"
		}
		if len(r.variants) > 1 {
			s.only = r.onlyOf(&entry{text: s.title, heading: ""})
		}
	}
	return out
}

// titleOf takes a title from the front of a step: its first sentence when it is short.
func titleOf(s string) (title, text string) {
	s = strings.TrimSpace(s)
	for _, sep := range []string{": ", ". ", " – ", " — ", " - ", "! ", "; "} {
		if i := strings.Index(s, sep); i > 3 && i <= 70 && !strings.Contains(s[:i], "(") {
			return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+len(sep):])
		}
	}
	if len(s) <= 80 {
		return strings.TrimRight(s, "."), ""
	}
	if i := strings.Index(s, ", "); i > 10 && i <= 70 && !strings.Contains(s[:i], "(") {
		return strings.TrimSpace(s[:i]), s
	}
	cut := strings.LastIndexByte(s[:70], ' ')
	if cut < 10 {
		cut = 70
	}
	return strings.ToValidUTF8(s[:cut], ""), s
}
