package hardware

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
)

// Designation is a fastener by its name: what a shop needs to know, and nothing of where it goes.
// Two designations are the same thing when they are equal with ==.
type Designation struct {
	Kind        Kind    `json:"kind"`
	Standard    string  `json:"standard,omitempty"` // "ISO 4762"; "" for inserts and standoffs, which have none
	Size        Size    `json:"size"`
	Length      float64 `json:"length,omitempty"`       // mm; screws, inserts, the body of standoffs
	Grade       string  `json:"grade,omitempty"`        // "8.8", "A2-70", "200 HV"; "" where not said
	Outer       float64 `json:"outer,omitempty"`        // mm; inserts
	AcrossFlats float64 `json:"across_flats,omitempty"` // mm; standoffs
	Ends        string  `json:"ends,omitempty"`         // standoffs: "female-female", "female-male"
}

// String is the canonical designation: "ISO 4762 - M3 x 16", "ISO 4762 - M3 x 16 - 8.8",
// "ISO 4032 - M3", "insert M3, outer 4.6, length 5.7", "standoff M2.5 x 10, female-male".
// ParseDesignation reads it back to the same value. (ISO writes a washer without the M; a stranger
// who orders one is better served with it.)
func (d Designation) String() string {
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	switch d.Kind {
	case KindInsert:
		add("insert %s", d.Size)
		if d.Outer > 0 {
			add(", outer %s", formatNumber(d.Outer))
		}
		if d.Length > 0 {
			add(", length %s", formatNumber(d.Length))
		}
		return b.String()
	case KindStandoff:
		add("standoff %s x %s", d.Size, formatNumber(d.Length))
		if d.Ends != "" {
			add(", %s", d.Ends)
		}
		if d.AcrossFlats > 0 {
			add(", %s across flats", formatNumber(d.AcrossFlats))
		}
		return b.String()
	}
	add("%s - %s", d.Standard, d.Size)
	if d.Kind == KindScrew {
		add(" x %s", formatNumber(d.Length))
	}
	if d.Grade != "" {
		add(" - %s", d.Grade)
	}
	return b.String()
}

// Title is the thing in words for someone who has never seen a standard: "socket head cap screw".
func (d Designation) Title() string {
	switch d.Kind {
	case KindInsert:
		return "heat-set insert"
	case KindStandoff:
		return "hexagon standoff"
	}
	if s, ok := StandardOf(d.Standard); ok {
		return s.Title
	}
	return string(d.Kind)
}

// patterns are compiled at first use: start-up is for printing help, too.
var patterns = sync.OnceValue(func() (p struct{ standard, size, grade *regexp.Regexp }) {
	p.standard = regexp.MustCompile(`^(?i)((?:din\s+en\s+iso|en\s+iso|din\s+iso|iso|din)[\s-]*\d+)((?:-\d)?(?:-?[abh])?)(:\d{4})?(?:\s|-|,|$)`)
	p.size = regexp.MustCompile(`^(?i)m?\s*(\d+(?:[.,]\d+)?)(?:\s*x\s*(\d+(?:[.,]\d+)?))?(?:\s*x\s*(\d+(?:[.,]\d+)?))?(?:\s*mm)?`)
	p.grade = regexp.MustCompile(`^(?i)(?:\d{1,2}(?:\.\d)?|a[124](?:-\d{2})?|\d{2,3}\s?hv|brass|nylon|pa)$`)
	return p
})

// plainText brings typographic signs to plain ones: the multiplication sign, dashes, odd blanks.
func plainText(text string) string {
	return strings.TrimSpace(strings.NewReplacer(
		"×", "x", "✕", "x", "Х", "x", "х", "x", "*", "x",
		"–", "-", "—", "-", "−", "-", "‐", "-", "‑", "-",
		"\u00a0", " ", "\u2009", " ", "\u202f", " ", "\t", " ",
	).Replace(text))
}

// ParseScrew reads the short form of a manifest, "M3x16": also "M3 x 16", "M3×16", "m2,5x5" and,
// where the pitch written is the coarse one, "M3x0.5x16". The length is in mm. The error says
// what is missing and what to write.
func ParseScrew(text string) (size Size, length float64, err error) {
	t := plainText(text)
	if len(t) > maxText {
		return "", 0, fmt.Errorf("screw %q… is too long; write for example M3x16", t[:20])
	}
	p := patterns()
	m := p.size.FindStringSubmatch(t)
	if m == nil || !strings.HasPrefix(strings.ToUpper(t), "M") {
		return "", 0, fmt.Errorf("screw %q is not of the form M3x16 (thread x length in mm)", text)
	}
	if rest := strings.TrimSpace(t[len(m[0]):]); rest != "" {
		return "", 0, fmt.Errorf("screw %q has %q behind it; write thread x length only, for example M3x16", text, rest)
	}
	return sizeAndLength(text, m)
}

// sizeAndLength turns the numbers of a match of patterns().size into a screw's size and length.
func sizeAndLength(text string, m []string) (Size, float64, error) {
	size, err := ParseSize("M" + m[1])
	if err != nil {
		return "", 0, err
	}
	if m[2] == "" {
		return "", 0, fmt.Errorf("screw %q has no length; write for example %sx8", text, size)
	}
	last := m[2]
	if m[3] != "" {
		pitch, _ := parseNumber(strings.ReplaceAll(m[2], ",", "."))
		if t, ok := ThreadOf(size); !ok || t.Pitch != pitch {
			return "", 0, fmt.Errorf("screw %q has a pitch of %s, but only coarse threads are in the tables", text, m[2])
		}
		last = m[3]
	}
	length, err := parseNumber(strings.ReplaceAll(last, ",", "."))
	if err != nil || length <= 0 || length > 500 {
		return "", 0, fmt.Errorf("screw %q: a length of %s mm is not possible", text, last)
	}
	return size, length, nil
}

// ParseDesignation reads a designation as people and shops write it: "ISO 4762 - M3 x 16",
// "ISO 4762 M3x16 - 8.8", "DIN EN ISO 4762 M3×16", "DIN 912 M3x16", "ISO 4032 - M3",
// "ISO 7089 - 3 - 200 HV", "insert M3, outer 4.6, length 5.7", "standoff M2.5x10, female-male".
// A DIN number stays what it is; TwinOf tells what replaced it and where the two differ. The
// error says what is wrong and, for an unknown standard, that the tables do not know it.
func ParseDesignation(text string) (Designation, error) {
	t := plainText(text)
	if t == "" {
		return Designation{}, fmt.Errorf("an empty designation; write for example ISO 4762 - M3 x 16")
	}
	if len(t) > maxText {
		return Designation{}, fmt.Errorf("designation %q… is too long", t[:20])
	}
	lower := strings.ToLower(t)
	for _, word := range []string{"heat-set insert", "heat set insert", "threaded insert", "insert"} {
		if rest, ok := strings.CutPrefix(lower, word); ok {
			return parseInsert(text, rest)
		}
	}
	for _, word := range []string{"hex standoff", "standoff", "spacer"} {
		if rest, ok := strings.CutPrefix(lower, word); ok {
			return parseStandoff(text, rest)
		}
	}
	for _, word := range []string{"screw", "bolt", "nut", "washer"} { // "Washer ISO 7089-3"
		if strings.HasPrefix(lower, word+" ") {
			t = strings.TrimSpace(t[len(word):])
			break
		}
	}
	std, rest, err := cutStandard(text, t)
	if err != nil {
		return Designation{}, err
	}
	d := Designation{Kind: std.Kind, Standard: std.Number}
	rest = trimSeparators(rest)
	m := patterns().size.FindStringSubmatch(rest)
	if m == nil || std.Kind != KindWasher && !strings.HasPrefix(strings.ToUpper(rest), "M") {
		return Designation{}, fmt.Errorf("designation %q has no size behind %s; write for example %s - M3%s", text, std.Number, std.Number, map[bool]string{true: " x 16"}[std.Kind == KindScrew])
	}
	if std.Kind == KindScrew {
		if d.Size, d.Length, err = sizeAndLength(text, m); err != nil {
			return Designation{}, err
		}
	} else {
		if d.Size, err = ParseSize("M" + m[1]); err != nil {
			return Designation{}, err
		}
		if m[2] != "" {
			return Designation{}, fmt.Errorf("designation %q: a %s has no length", text, std.Kind)
		}
	}
	if grade := trimSeparators(rest[len(m[0]):]); grade != "" {
		// A nut's class is a whole number (ISO 898-2), a screw's never is.
		if !patterns().grade.MatchString(grade) || std.Kind != KindNut && len(strings.Trim(grade, "0123456789")) == 0 {
			return Designation{}, fmt.Errorf("designation %q: %q is not a strength or material; known are for example 8.8, A2-70, 200 HV", text, grade)
		}
		d.Grade = strings.ToUpper(grade)
		if strings.Trim(grade, "abcdefghijklmnopqrstuvwxyz") == "" && len(grade) > 2 {
			d.Grade = grade // brass, nylon
		}
	}
	return d, nil
}

// cutStandard takes the standard off the front of a designation.
func cutStandard(text, t string) (std Standard, rest string, err error) {
	m := patterns().standard.FindStringSubmatch(t)
	if m == nil {
		return Standard{}, "", fmt.Errorf("designation %q does not begin with a standard; write for example ISO 4762 - M3 x 16", text)
	}
	number, part, year := m[1], m[2], m[3]
	// "ISO 7380-1" carries a part, "ISO 7089-3" a size: whichever the tables know.
	if s, ok := StandardOf(number + part); ok {
		return s, t[len(number)+len(part)+len(year):], nil
	}
	if s, ok := StandardOf(number); ok {
		return s, t[len(number):], nil
	}
	return Standard{}, "", fmt.Errorf("the tables do not know the standard %q in %q", canonicalNumber(number+part), text)
}

// trimSeparators removes what stands between the pieces of a designation.
func trimSeparators(t string) string { return strings.Trim(t, " -,;") }

// parseInsert reads what follows the word insert, in lower case.
func parseInsert(text, rest string) (Designation, error) {
	d := Designation{Kind: KindInsert}
	for i, piece := range strings.Split(trimSeparators(rest), ",") {
		piece = strings.TrimSpace(piece)
		if i == 0 {
			var err error
			if strings.Contains(piece, "x") {
				return Designation{}, fmt.Errorf("insert %q: numbers in a row leave open which is the outer diameter; write insert M3, outer 4.6, length 5.7", text)
			}
			if d.Size, err = ParseSize(piece); err != nil {
				return Designation{}, fmt.Errorf("insert %q: %w", text, err)
			}
			continue
		}
		key, value, _ := strings.Cut(piece, " ")
		v, err := parseNumber(strings.TrimSpace(strings.TrimSuffix(value, "mm")))
		if err != nil || v <= 0 || v > 100 {
			return Designation{}, fmt.Errorf("insert %q: %q is not a size in mm; write for example outer 4.6", text, piece)
		}
		switch key {
		case "outer":
			d.Outer = v
		case "length":
			d.Length = v
		default:
			return Designation{}, fmt.Errorf("insert %q: %q is not known; write insert M3, outer 4.6, length 5.7", text, key)
		}
	}
	return d, nil
}

// parseStandoff reads what follows the word standoff, in lower case.
func parseStandoff(text, rest string) (Designation, error) {
	d := Designation{Kind: KindStandoff}
	for i, piece := range strings.Split(trimSeparators(rest), ",") {
		piece = strings.TrimSpace(piece)
		if i == 0 {
			var err error
			if d.Size, d.Length, err = ParseScrew(piece); err != nil {
				return Designation{}, fmt.Errorf("standoff %q: %w", text, err)
			}
			continue
		}
		if flats, ok := strings.CutSuffix(piece, "across flats"); ok {
			v, err := parseNumber(strings.TrimSpace(flats))
			if err != nil || v <= 0 || v > 100 {
				return Designation{}, fmt.Errorf("standoff %q: %q is not a size in mm", text, piece)
			}
			d.AcrossFlats = v
			continue
		}
		ends, err := ParseEnds(piece)
		if err != nil {
			return Designation{}, fmt.Errorf("standoff %q: %w", text, err)
		}
		d.Ends = ends
	}
	return d, nil
}

// ParseEnds reads the ends of a standoff: "female-female", "female-male" (also "male-female",
// which is the same thing turned round), "male-male". "" is female-female.
func ParseEnds(text string) (string, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "", "female-female":
		return "female-female", nil
	case "female-male", "male-female":
		return "female-male", nil
	case "male-male":
		return "male-male", nil
	}
	return "", fmt.Errorf("%q is not a pair of ends; known are female-female, female-male, male-male", text)
}
