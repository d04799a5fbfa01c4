package trial

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Names are the words that a line may hold besides figures. A word that is in two lists is taken
// for a part first, then for a printer, a filament, a variant.
type Names struct {
	Parts, Printers, Filaments, Variants []string
}

// Bounds that keep out typing errors, not prints: no source.
const (
	mostGrams   = 20_000
	mostSeconds = 60 * 86_400
	mostCopies  = 1000
	leastHole   = 0.2 // mm
	mostHole    = 500 // mm
	mostOff     = 2   // mm between drawn and measured
	longestNote = 2000
)

// ParseLine parses one line as typed: words apart by blanks, text with blanks in double quotes.
func ParseLine(line string, names Names) (Record, error) {
	words, err := split(line)
	if err != nil {
		return Record{}, err
	}
	return Parse(words, names)
}

// Parse reads a trial from words in any order: the part's name, a mass (41g, 0.2kg), a time (2h35, 155m,
// 2:35), ok or failed, copies printed together (x4, 4x), holes (hole 3.4=3.21), a printer, a filament, a variant, and a note: everything
// else, or what was quoted. The record lacks what the caller knows: time, design, mesh, settings, model.
// Errors say what to type.
func Parse(words []string, names Names) (Record, error) {
	var r Record
	var notes []string
	once := func(field *string, word, what string) error {
		if *field != "" && *field != word {
			return fmt.Errorf("two %ss: %q and %q; log one print a line", what, *field, word)
		}
		*field = word
		return nil
	}
	for i := 0; i < len(words); i++ {
		w := strings.TrimSpace(words[i])
		if w == "" {
			continue
		}
		lower := strings.ToLower(w)
		var err error
		switch {
		case slices.Contains(names.Parts, w):
			err = once(&r.Part, w, "part")
		case slices.Contains(names.Printers, w):
			err = once(&r.Printer, w, "printer")
		case slices.Contains(names.Filaments, w):
			err = once(&r.Filament, w, "filament")
		case slices.Contains(names.Variants, w):
			err = once(&r.Variant, w, "variant")
		case lower == "ok" || lower == "good" || lower == "accepted":
			err = once(&r.Outcome, OK, "outcome")
		case lower == "failed" || lower == "fail" || lower == "bad":
			err = once(&r.Outcome, Failed, "outcome")
		case (lower == "hole" || lower == "holes") && i+1 < len(words) && strings.Contains(words[i+1], "="):
			// The word only announces what follows, and that is told by its "=".
		case isCopies(lower):
			err = r.copies(lower)
		case isFigure(w):
			err = r.figure(lower)
		default:
			notes = append(notes, w)
		}
		if err != nil {
			return Record{}, err
		}
	}
	r.Note = strings.Join(notes, " ")
	return r, r.complete(names)
}

// complete says what is missing.
func (r *Record) complete(names Names) error {
	if r.Part == "" {
		if len(names.Parts) == 1 {
			r.Part = names.Parts[0]
		} else {
			return fmt.Errorf("which part? name one of %s", strings.Join(names.Parts, ", "))
		}
	}
	printed := r.Grams > 0 || r.Seconds > 0
	switch {
	case printed && r.Outcome == "":
		return fmt.Errorf("did %s come out? add ok or failed", r.Part)
	case !printed && r.Outcome == "" && len(r.Holes) == 0:
		return fmt.Errorf("nothing to log of %s; add for example: 41g 2h35 ok, or: hole 3.4=3.21", r.Part)
	case len(r.Note) > longestNote:
		return fmt.Errorf("the note has %d letters; keep it under %d", len(r.Note), longestNote)
	}
	return nil
}

// isFigure says whether a word means to be a figure: it begins like one and has no blank.
func isFigure(w string) bool {
	d := strings.TrimLeft(w, "+-.")
	return d != "" && d[0] >= '0' && d[0] <= '9' && !strings.ContainsAny(w, " \t")
}

// isCopies tells x4 and 4x.
func isCopies(w string) bool {
	d := strings.TrimSuffix(strings.TrimPrefix(w, "x"), "x")
	return len(w) == len(d)+1 && d != "" && strings.Trim(d, "0123456789") == ""
}

func (r *Record) copies(w string) error {
	n, err := strconv.Atoi(strings.Trim(w, "x"))
	switch {
	case err != nil || n < 1 || n > mostCopies:
		return fmt.Errorf("%q: 1 to %d copies", w, mostCopies)
	case r.Copies != 0:
		return fmt.Errorf("copies twice: %d and %s", r.Copies, w)
	}
	r.Copies = n
	return nil
}

// figure reads a mass, a time or a hole.
func (r *Record) figure(w string) error {
	if drawn, measured, ok := strings.Cut(w, "="); ok {
		h, err := hole(drawn, measured)
		if err != nil {
			return err
		}
		r.Holes = append(r.Holes, h)
		return nil
	}
	for _, u := range []struct {
		suffix string
		grams  float64
	}{{"kg", 1000}, {"mg", 0.001}, {"g", 1}} {
		n, ok := strings.CutSuffix(w, u.suffix)
		if !ok {
			continue
		}
		v, err := decimal(n)
		if err != nil {
			return fmt.Errorf("%q is not a mass; write it like 41g or 41.5g", w)
		}
		if g := v * u.grams; g <= 0 || g > mostGrams {
			return fmt.Errorf("%q: a print weighs more than nothing and less than %d g", w, mostGrams)
		} else if r.Grams != 0 {
			return fmt.Errorf("two masses: %gg and %s; log one print a line", r.Grams, w)
		} else {
			r.Grams = g
		}
		return nil
	}
	s, ok := seconds(w)
	if !ok {
		return fmt.Errorf("%q is neither a mass (41g), a time (2h35) nor a hole (3.4=3.21)", w)
	}
	if s <= 0 || s > mostSeconds {
		return fmt.Errorf("%q: a print takes more than nothing and less than sixty days", w)
	}
	if r.Seconds != 0 {
		return fmt.Errorf("two times; log one print a line")
	}
	r.Seconds = s
	return nil
}

// seconds reads 2h35, 2h35m, 1d4h, 155m, 155min, 90s, 2:35 (hours and minutes), 2:35:10.
func seconds(w string) (float64, bool) {
	if strings.Contains(w, ":") {
		sum, unit := 0.0, 3600.0
		parts := strings.Split(w, ":")
		if len(parts) > 3 {
			return 0, false
		}
		for i, p := range parts {
			v, err := decimal(p)
			if err != nil || i > 0 && v >= 60 {
				return 0, false
			}
			sum += v * unit
			unit /= 60
		}
		return sum, true
	}
	units := []struct {
		letter  byte
		seconds float64
	}{{'d', 86400}, {'h', 3600}, {'m', 60}, {'s', 1}}
	w = strings.ReplaceAll(strings.ReplaceAll(w, "min", "m"), "sec", "s")
	sum, rest, last := 0.0, w, -1
	for rest != "" {
		n := strings.IndexAny(rest, "dhms")
		if n < 0 {
			// 2h35: a number at the end counts in the next smaller unit.
			v, err := decimal(rest)
			if err != nil || last < 0 || last == len(units)-1 {
				return 0, false
			}
			return sum + v*units[last+1].seconds, true
		}
		v, err := decimal(rest[:n])
		if err != nil {
			return 0, false
		}
		k := slices.IndexFunc(units, func(u struct {
			letter  byte
			seconds float64
		}) bool {
			return u.letter == rest[n]
		})
		if k <= last {
			return 0, false
		}
		sum, last, rest = sum+v*units[k].seconds, k, rest[n+1:]
	}
	return sum, true
}

func hole(drawn, measured string) (Hole, error) {
	a, err := decimal(strings.TrimSuffix(drawn, "mm"))
	b, err2 := decimal(strings.TrimSuffix(measured, "mm"))
	if err != nil || err2 != nil {
		return Hole{}, fmt.Errorf("%s=%s is not a hole; write drawn=measured in mm, like 3.4=3.21", drawn, measured)
	}
	if a < leastHole || a > mostHole || b <= 0 || b-a > mostOff || a-b > mostOff {
		return Hole{}, fmt.Errorf("hole %s=%s: drawn %g to %g mm, measured within %d mm of it", drawn, measured, float64(leastHole), float64(mostHole), mostOff)
	}
	return Hole{Drawn: a, Measured: b}, nil
}

// decimal reads digits with at most one point; no signs, exponents, hexadecimals or infinities.
func decimal(s string) (float64, error) {
	if s == "" || len(s) > 20 || strings.Trim(s, "0123456789.") != "" {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(s, 64)
}

// split cuts a line at blanks outside double quotes.
func split(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	quoted, any := false, false
	for _, c := range line {
		switch {
		case c == '"':
			quoted, any = !quoted, true
		case !quoted && (c == ' ' || c == '\t' || c == '\n' || c == '\r'):
			if any {
				words = append(words, word.String())
				word.Reset()
			}
			any = false
		default:
			word.WriteRune(c)
			any = true
		}
	}
	if quoted {
		return nil, fmt.Errorf("a quote is not closed in %q", line)
	}
	if any {
		words = append(words, word.String())
	}
	return words, nil
}
