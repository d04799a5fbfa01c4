package adopt

import (
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// fileName is what a file's name says beside what the thing is called.
type fileName struct {
	tokens   []string // the words of the name, lower case, without what the fields below took
	copies   int      // from x2, 2x, (x2), qty2; 0: none
	side     string   // "left", "right"
	mirrored bool     // the name says mirrored
	version  []int    // v2.1, r3, 2026-04-01
	age      int      // words such as old (-1), new (1), final (2)
	noise    int      // "copy", "(1)": of a file that was copied or fetched twice
	colour   string
	role     string // "reference", "jig", "spare"
	old      bool   // it lies in a folder of old things
}

// stem is the name in kebab-case.
func (n fileName) stem() string { return strings.Join(n.tokens, "-") }

var (
	bracketCopies = lazily(`(?i)[(\[]\s*(?:(?:x|×|qty|print)\s*(\d{1,3})|(\d{1,3})\s*(?:x|×|pcs|off))\s*[)\]]`)
	bracketNoise  = lazily(`\s*\((\d{1,2})\)`)
	versionShape  = lazily(`(?i)(?:^|[-_. (])(?:v|ver|version|rev|revision)[-_. ]?(\d{1,4}(?:[._]\d{1,4}){0,3})\b?(?:$|[-_. )])`)
	shortRevision = lazily(`(?i)(?:^|[-_. (])(?:r(\d{1,3})|rev[-_. ]?([a-h]))(?:$|[-_. )])`)
	dateShape     = lazily(`(?:^|[-_. (])(20\d\d)[-_.]?([01]\d)[-_.]?([0-3]\d)(?:$|[-_. )])`)
	copiesToken   = lazily(`^(?:x(\d{1,3})|(\d{1,3})x|qty(\d{1,3})|(\d{1,3})(?:pcs|off|pc|stk))$`)
)

// ageWords are words that say how old a state is, and nothing of what the thing is.
var ageWords = map[string]int{"old": -2, "older": -2, "backup": -2, "bak": -2, "obsolete": -3, "deprecated": -3, "broken": -3, "previous": -2, "prev": -2, "draft": -1, "wip": -1, "orig": -1, "original": -1,
	"new": 1, "newer": 1, "newest": 2, "latest": 2, "current": 1, "fixed": 1, "fix": 1, "final": 2, "finalfinal": 3, "final2": 3, "release": 1}

// noiseWords say nothing of the thing.
var noiseWords = map[string]bool{"copy": true, "kopie": true, "copie": true, "export": true, "exported": true, "print": true, "printable": true, "ready": true, "stl": true, "mm": true, "repaired": true}

var oldFolders = map[string]bool{"old": true, "archive": true, "archived": true, "backup": true, "backups": true, "bak": true, "obsolete": true, "deprecated": true, "previous": true, "attic": true, "alt": true, "_old": true, "history": true}

var referenceWords = map[string]bool{"assembly": true, "assembled": true, "asm": true, "assy": true, "exploded": true, "reference": true, "ref": true, "mockup": true, "dummy": true, "preview": true, "complete": true, "everything": true, "buildplate": true, "overview": true, "calibration": true, "benchy": true}
var jigWords = map[string]bool{"jig": true, "template": true, "gauge": true, "fixture": true, "coupon": true}

// colourWords are the colours that people name.
var colourWords = []string{"black", "white", "grey", "gray", "red", "green", "blue", "yellow", "orange", "purple", "violet", "pink", "brown", "beige", "silver", "gold", "transparent", "clear", "natural", "turquoise", "teal", "cyan", "magenta", "navy", "olive", "cream", "ivory", "bronze", "copper"}

var sideWords = map[string]string{"left": "left", "right": "right", "lh": "left", "rh": "right", "lefthand": "left", "righthand": "right", "links": "left", "rechts": "right"}

// splitWords splits a name at signs and where a capital follows a small letter, and lowers it.
func splitWords(s string) []string {
	var out []string
	var b strings.Builder
	flush := func() {
		if b.Len() > 0 {
			out = append(out, strings.ToLower(b.String()))
			b.Reset()
		}
	}
	prev := rune(0)
	for _, r := range s {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush()
		case unicode.IsUpper(r) && unicode.IsLower(prev):
			flush()
			b.WriteRune(r)
		default:
			b.WriteRune(r)
		}
		prev = r
	}
	flush()
	return out
}

// nameOf reads a file's name. colours are further words for colours: the filaments of the series.
func nameOf(file string, colours []string) fileName {
	var n fileName
	dir, base := path.Split(file)
	base = strings.TrimSuffix(base, path.Ext(base))
	if m := bracketCopies.FindStringSubmatch(base); m != nil {
		n.copies, _ = strconv.Atoi(m[1] + m[2])
		base = bracketCopies.ReplaceAllString(base, " ")
	}
	if bracketNoise.MatchString(base) {
		n.noise++
		base = bracketNoise.ReplaceAllString(base, "")
	}
	take := func(shape *pattern) []string {
		m := shape.FindStringSubmatch(base)
		if m != nil {
			base = shape.ReplaceAllString(base, "-")
		}
		return m
	}
	if m := take(dateShape); m != nil {
		d, _ := strconv.Atoi(m[1] + m[2] + m[3])
		n.version = append(n.version, d)
	}
	if m := take(versionShape); m != nil {
		for _, f := range strings.FieldsFunc(m[1], func(r rune) bool { return r == '.' || r == '_' }) {
			v, _ := strconv.Atoi(f)
			n.version = append(n.version, v)
		}
	} else if m := take(shortRevision); m != nil {
		v, _ := strconv.Atoi(m[1])
		if m[2] != "" {
			v = int(strings.ToLower(m[2])[0]-'a') + 1
		}
		n.version = append(n.version, v)
	}
	all := splitWords(base)
	for i := 0; i < len(all); i++ {
		w := all[i]
		rest := len(all) > 1
		if m := copiesToken.FindStringSubmatch(w); m != nil && rest && n.copies == 0 {
			n.copies, _ = strconv.Atoi(m[1] + m[2] + m[3] + m[4])
			continue
		}
		if (w == "qty" || w == "x") && i+1 < len(all) && isDigits(all[i+1]) && n.copies == 0 {
			n.copies, _ = strconv.Atoi(all[i+1])
			i++
			continue
		}
		if isDigits(w) && i+1 < len(all) && (all[i+1] == "pcs" || all[i+1] == "off" || all[i+1] == "copies") && n.copies == 0 {
			n.copies, _ = strconv.Atoi(w)
			i++
			continue
		}
		switch {
		case rest && sideWords[w] != "":
			n.side = sideWords[w]
		case rest && (w == "l" || w == "r") && (i == len(all)-1 || i == 0):
			n.side = map[string]string{"l": "left", "r": "right"}[w]
		case rest && (w == "mirrored" || w == "mirror" || w == "mir" || w == "flipped"):
			n.mirrored = true
		case rest && ageWords[w] != 0:
			n.age += ageWords[w]
		case rest && noiseWords[w]:
			if w == "copy" || w == "kopie" {
				n.noise++
			}
		case referenceWords[w]:
			n.role = "reference"
			n.tokens = append(n.tokens, w)
		case jigWords[w]:
			n.role = "jig"
			n.tokens = append(n.tokens, w)
		case rest && w == "spare":
			n.role = "spare"
			n.tokens = append(n.tokens, w)
		case rest && n.colour == "" && (slices.Contains(colourWords, w) || slices.Contains(colours, w)):
			n.colour = w
		default:
			n.tokens = append(n.tokens, w)
		}
	}
	if len(n.tokens) == 0 {
		n.tokens = append(n.tokens, splitWords(strings.TrimSuffix(path.Base(file), path.Ext(file)))...)
		n.colour, n.side = "", ""
	}
	for _, d := range strings.Split(strings.ToLower(strings.Trim(dir, "/")), "/") {
		n.old = n.old || oldFolders[d]
	}
	return n
}

func isDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// newer compares the states that two names of one thing speak of: positive when a is newer.
func newer(a, b fileName) int {
	if a.old != b.old {
		if b.old {
			return 1
		}
		return -1
	}
	if (a.age < 0) != (b.age < 0) {
		if b.age < 0 {
			return 1
		}
		return -1
	}
	if c := slices.Compare(a.version, b.version); c != 0 {
		return c
	}
	return a.age - b.age
}

// revised tells whether a name says which state the file is of.
func (n fileName) revised() bool { return len(n.version) > 0 || n.age != 0 || n.old }
