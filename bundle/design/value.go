package design

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// Val is a value with its place in the manifest. V is the zero value when it was not written.
type Val[T any] struct {
	V  T
	At finding.Place
}

// Set reports whether the value was written.
func (v Val[T]) Set() bool { return v.At.Known() }

// Or returns the value, or def when it was not written.
func (v Val[T]) Or(def T) T {
	if v.Set() {
		return v.V
	}
	return def
}

// SetPlace keeps the place.
func (v *Val[T]) SetPlace(at finding.Place) { v.At = at }

// ScalarForm decodes a plain value into V.
func (v *Val[T]) ScalarForm() any { return &v.V }

// Text is a text as typed: 1.10, 012 and no stay what they are.
type Text string

// SetText keeps the text and refuses an empty one.
func (t *Text) SetText(s string, quoted bool) error {
	if strings.TrimSpace(s) == "" {
		return fmt.Errorf("expected a text, found an empty one")
	}
	if len(s) > 100_000 {
		return fmt.Errorf("expected a text of up to 100,000 bytes, found %d", len(s))
	}
	*t = Text(strings.TrimSpace(s))
	return nil
}

var kebab = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Name is a name of the maker's choosing in kebab-case: lower-case letters, digits and single hyphens.
type Name string

// SetText accepts kebab-case and suggests the nearest such name otherwise.
func (n *Name) SetText(s string, quoted bool) error {
	if kebab.MatchString(s) && len(s) <= 48 {
		*n = Name(s)
		return nil
	}
	return misform{text: fmt.Sprintf("expected a name of lower-case letters, digits and hyphens, up to 48 long, found %q", s), hint: "write " + Kebab(s)}
}

// Kebab turns any text into the nearest kebab-case name; "name" when nothing is left.
func Kebab(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	out := strings.Trim(b.String(), "-")
	if len(out) > 48 {
		out = strings.Trim(out[:48], "-")
	}
	if out == "" {
		return "name"
	}
	return out
}

// misform is an error with a hint of its own, for the decoder.
type misform struct{ code, text, hint string }

func (m misform) Error() string { return m.text }

// Finding gives the code and the hint of the finding that the error becomes.
func (m misform) Finding() (string, string) {
	if m.code == "" {
		return "value-wrong", m.hint
	}
	return m.code, m.hint
}

// Int is a whole number of 0 or more.
type Int int

// SetText reads digits; a quoted number, a fraction, a sign or a leading zero is refused.
func (i *Int) SetText(s string, quoted bool) error {
	if quoted {
		return misform{text: fmt.Sprintf("expected a whole number, found the text %q in quotes", s), hint: "remove the quotes"}
	}
	f, err := unit.ParseNumber(s)
	n, err2 := strconv.Atoi(s)
	switch {
	case err != nil:
		return misform{text: fmt.Sprintf("expected a whole number, found %q", s), hint: "write digits only, such as 4"}
	case err2 != nil || f < 0:
		return misform{text: fmt.Sprintf("expected a whole number of 0 or more, found %q", s), hint: "write digits only, such as 4"}
	case n > 1_000_000:
		return misform{text: fmt.Sprintf("expected a number up to 1,000,000, found %q", s), hint: "check the figure"}
	}
	*i = Int(n)
	return nil
}

// Quantity is a number of 0 or more that may have a fraction, for lengths of wire and the like.
type Quantity float64

// SetText reads a plain number.
func (q *Quantity) SetText(s string, quoted bool) error {
	if quoted {
		return misform{text: fmt.Sprintf("expected a number, found the text %q in quotes", s), hint: "remove the quotes"}
	}
	f, err := unit.ParseNumber(s)
	if err != nil {
		return err
	}
	if f < 0 || f > 1e6 {
		return fmt.Errorf("expected a number from 0 to 1,000,000, found %q", s)
	}
	*q = Quantity(f)
	return nil
}

// Bool is true or false, and nothing else: yes and no are texts in YAML 1.2.
type Bool bool

// SetText reads true or false.
func (b *Bool) SetText(s string, quoted bool) error {
	switch {
	case s == "true" && !quoted:
		*b = true
	case s == "false" && !quoted:
		*b = false
	default:
		return misform{text: fmt.Sprintf("expected true or false, found %q", s), hint: "write true or false, without quotes"}
	}
	return nil
}

var revisionShape = regexp.MustCompile(`^(0|[1-9]\d{0,5})\.(0|[1-9]\d{0,5})\.(0|[1-9]\d{0,5})$`)

// Revision is a design's version: MAJOR.MINOR.PATCH.
type Revision struct{ Major, Minor, Patch int }

// ParseRevision reads "1.0.2".
func ParseRevision(s string) (Revision, error) {
	m := revisionShape.FindStringSubmatch(s)
	if m == nil {
		return Revision{}, misform{code: "revision-malformed", text: fmt.Sprintf("expected a revision such as 1.0.0, found %q", s), hint: "write three plain numbers: MAJOR.MINOR.PATCH"}
	}
	var r Revision
	r.Major, _ = strconv.Atoi(m[1])
	r.Minor, _ = strconv.Atoi(m[2])
	r.Patch, _ = strconv.Atoi(m[3])
	return r, nil
}

// SetText reads "1.0.2".
func (r *Revision) SetText(s string, quoted bool) (err error) {
	*r, err = ParseRevision(s)
	return err
}

// String prints "1.0.2".
func (r Revision) String() string { return fmt.Sprintf("%d.%d.%d", r.Major, r.Minor, r.Patch) }

// Compare orders revisions: negative when r is older than s.
func (r Revision) Compare(s Revision) int {
	for _, d := range [...]int{r.Major - s.Major, r.Minor - s.Minor, r.Patch - s.Patch} {
		if d != 0 {
			return d
		}
	}
	return 0
}

// Next returns the revision after r at a level: "major", "minor" or "patch".
func (r Revision) Next(level string) Revision {
	switch level {
	case "major":
		return Revision{r.Major + 1, 0, 0}
	case "minor":
		return Revision{r.Major, r.Minor + 1, 0}
	}
	return Revision{r.Major, r.Minor, r.Patch + 1}
}

// Date is a calendar date without a time or zone.
type Date struct{ Year, Month, Day int }

var dateShape = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})$`)

// ParseDate reads "2027-01-20" and refuses days that no month has. Years run from 1980, where the time of a
// zip entry begins (PKWARE APPNOTE 4.4.6, MS-DOS format), to 2107, where it ends.
func ParseDate(s string) (Date, error) {
	m := dateShape.FindStringSubmatch(s)
	bad := misform{text: fmt.Sprintf("expected a date such as 2027-01-20, found %q", s), hint: "write year-month-day in digits"}
	if m == nil {
		return Date{}, bad
	}
	var d Date
	d.Year, _ = strconv.Atoi(m[1])
	d.Month, _ = strconv.Atoi(m[2])
	d.Day, _ = strconv.Atoi(m[3])
	if d.Year < 1980 || d.Year > 2107 {
		return Date{}, misform{text: fmt.Sprintf("expected a year from 1980 to 2107, found %q", s), hint: "times inside zip files cannot say other years"}
	}
	if d.Month < 1 || d.Month > 12 || d.Day < 1 || d.Day > daysIn(d.Year, d.Month) {
		return Date{}, misform{text: fmt.Sprintf("there is no day %s in the calendar", s), hint: "check month and day: year-month-day"}
	}
	return d, nil
}

func daysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && year%100 != 0 || year%400 == 0 {
			return 29
		}
		return 28
	}
	return 31
}

// SetText reads "2027-01-20".
func (d *Date) SetText(s string, quoted bool) (err error) {
	*d, err = ParseDate(s)
	return err
}

// String prints "2027-01-20".
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// Compare orders dates: negative when d is earlier than e.
func (d Date) Compare(e Date) int {
	return (d.Year*10000 + d.Month*100 + d.Day) - (e.Year*10000 + e.Month*100 + e.Day)
}

// Path is a file inside the design's folder, with forward slashes.
type Path string

// SetText refuses what leaves the folder or would not name a file on every system.
func (p *Path) SetText(s string, quoted bool) error {
	refuse := func(why, hint string) error {
		return misform{code: "path-outside", text: fmt.Sprintf("%s: %q", why, s), hint: hint}
	}
	switch {
	case s == "" || s != strings.TrimSpace(s):
		return fmt.Errorf("expected a file path, found %q", s)
	case strings.Contains(s, `\`):
		return refuse("a path with backslashes", "write "+strings.ReplaceAll(s, `\`, "/"))
	case strings.HasPrefix(s, "/") || strings.HasPrefix(s, "~") || len(s) > 1 && s[1] == ':':
		return refuse("a path from outside the design's folder", "copy the file into the design's folder and name it from there: meshes/part.stl")
	case len(s) > 240:
		return fmt.Errorf("expected a path of up to 240 bytes, found %d", len(s))
	}
	for _, seg := range strings.Split(s, "/") {
		switch seg {
		case "..":
			return refuse("a path that leaves the design's folder", "copy the file into the design's folder and name it from there")
		case "", ".":
			return refuse("a path with an empty step", "write it plainly: meshes/part.stl")
		}
		if strings.ContainsFunc(seg, func(r rune) bool { return r < 32 || r == 127 }) {
			return refuse("a path with a control character", "rename the file")
		}
	}
	*p = Path(s)
	return nil
}

var hexShape = regexp.MustCompile(`^#[0-9a-fA-F]{6}$`)

// Hex is a colour as #rrggbb, lower case.
type Hex string

// SetText reads "#8a5a44".
func (h *Hex) SetText(s string, quoted bool) error {
	if !hexShape.MatchString(s) {
		return misform{text: fmt.Sprintf("expected a colour such as \"#8a5a44\", found %q", s), hint: "write six hexadecimal digits after #, in quotes"}
	}
	*h = Hex(strings.ToLower(s))
	return nil
}

// RGB returns the three channels, 0 to 255. A colour that was not written is mid grey.
func (h Hex) RGB() (r, g, b uint8) {
	n, err := strconv.ParseUint(strings.TrimPrefix(string(h), "#"), 16, 32)
	if err != nil {
		return 0x80, 0x80, 0x80
	}
	return uint8(n >> 16), uint8(n >> 8), uint8(n)
}

// URL is an https or http address.
type URL string

// SetText requires the scheme.
func (u *URL) SetText(s string, quoted bool) error {
	rest, ok := strings.CutPrefix(s, "https://")
	if !ok {
		rest, ok = strings.CutPrefix(s, "http://")
	}
	if !ok || rest == "" || strings.ContainsAny(s, " \t<>\"") {
		return misform{text: fmt.Sprintf("expected an address such as \"https://hollow-lane.example\", found %q", s), hint: "begin with https://"}
	}
	*u = URL(s)
	return nil
}
