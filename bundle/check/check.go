package check

import (
	"fmt"
	"time"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// Input is all that a rule may look at.
type Input struct {
	Design *design.Design
	Facts  *facts.Design
	House  *design.House
	Past   Past
	For    design.Audience // "" or the audience that is about to be released
}

// Past is what came before: it comes from outside the folder (git, the ledger), as one value.
type Past struct {
	Known    bool       // whether there is a history to ask; if not, what needs it is not checked
	Released []Released // in any order
	// Ages tells when each file of the design's folder was last changed, by its path; a file that the history
	// does not know is absent. nil: there is no history to ask.
	Ages map[string]Age
	// Trials are the logged prints of the design's parts, oldest first; nil: none was logged.
	Trials []Trial
}

// Age is when a file was last changed.
type Age struct {
	At      time.Time // of the commit
	Pending bool      // it is changed and not committed: newer than all that is
}

// Trial is one logged print.
type Trial struct {
	Part     string
	Variant  string // "": any
	Mesh     string // SHA-256 of what was printed
	Accepted bool   // else it failed
}

// Released is a revision that went out, or is tagged to go.
type Released struct {
	Revision design.Revision
	Content  string // facts.Design.Content of that revision; "" when it cannot be worked out
}

// Result is what the rules had to say.
type Result struct {
	Findings   []finding.Finding
	NotChecked []finding.NotChecked
	UsedAsIs   []finding.UsedAsIs
	Joints     int // of all variants, judged with figures throughout
}

// Errors counts the findings of level error.
func (r Result) Errors() int { return finding.Count(r.Findings, finding.Error) }

type rule struct {
	name string
	run  func(*Input, *report)
}

// rules is the one list, in the order they run; the order of their findings does not depend on it.
var rules = []rule{
	{"files", files},
	{"placeholders", placeholders},
	{"names in the bundle", namesPortable},
	{"meshes", meshes},
	{"colours", colours},
	{"counts", counts},
	{"steps", steps},
	{"licence", licence},
	{"pictures", pictures},
	{"bed", bed},
	{"revision", revision},
	{"print settings", printSettings},
	{"settings that clash", settingsClash},
	{"settings in texts", settingsInTexts},
	{"folder", folder},
	{"surfaces", surfaces},
	{"duplicates", duplicates},
	{"units", units},
	{"walls", walls},
	{"orientation", orientation},
	{"material", material},
	{"quantities", quantities},
	{"lost decimal points", tenfold},
	{"names", names},
	{"licence terms", licenceTerms},
	{"licence in texts", licenceInTexts},
	{"files in texts", filesInTexts},
	{"links", links},
	{"lists", lists},
	{"privacy", privacy},
	{"ages", ages},
	{"trials", trials},
	{"revision of the board", boardRevision},
	{"print files", toolpaths},
	{"joints", joints},
	{"how parts sit in one another", plays},
	{"order", order},
	{"fewest sizes", fewest},
	{"sizes in texts", proseSizes},
	{"boards", boards},
	{"ports", ports},
	{"fans", fans},
	{"wiring", wiring},
}

// Run applies every rule, takes out the warnings that the maker took as they are, and sorts.
func Run(in Input) Result {
	r := &report{variants: in.Design.VariantNames()}
	for _, x := range rules {
		x.run(&in, r)
	}
	out := Result{Findings: r.merged(), NotChecked: r.notChecked, Joints: r.joints}
	out.Findings, out.UsedAsIs = asIs(in.Design, out.Findings)
	finding.Sort(out.Findings)
	return out
}

type report struct {
	variants   []string
	findings   []finding.Finding
	notChecked []finding.NotChecked
	joints     int // judged throughout
}

func (r *report) add(code string, at finding.Place, variant, text, hint string) {
	f := finding.New(code, at, text, hint)
	f.Variant = variant
	r.findings = append(r.findings, f)
}

func (r *report) unknown(at finding.Place, variant, text string) {
	r.notChecked = append(r.notChecked, finding.NotChecked{At: at, Variant: variant, Text: text})
}

// merged folds findings that every variant has alike into one that concerns the whole design.
func (r *report) merged() []finding.Finding {
	type key struct {
		code, text string
		at         finding.Place
	}
	seen := map[key]map[string]bool{}
	for _, f := range r.findings {
		k := key{f.Code, f.Text, f.At}
		if seen[k] == nil {
			seen[k] = map[string]bool{}
		}
		seen[k][f.Variant] = true
	}
	done := map[key]bool{}
	var out []finding.Finding
	for _, f := range r.findings {
		k := key{f.Code, f.Text, f.At}
		if whole := seen[k][""] || len(seen[k]) == len(r.variants); whole {
			if !done[k] {
				done[k] = true
				f.Variant = ""
				out = append(out, f)
			}
			continue
		}
		if k2 := (key{f.Code, f.Text + "\x00" + f.Variant, f.At}); !done[k2] {
			done[k2] = true
			out = append(out, f)
		}
	}
	return out
}

// asIs takes out the warnings and notes that the manifest takes as they are. Errors stay.
func asIs(d *design.Design, all []finding.Finding) (left []finding.Finding, taken []finding.UsedAsIs) {
	used := make([]bool, len(d.UseAsIs))
	for _, f := range all {
		t := -1
		for i, u := range d.UseAsIs {
			if string(u.Code.V) == f.Code && f.Level != finding.Error {
				t = i
			}
		}
		if t < 0 {
			left = append(left, f)
			continue
		}
		used[t] = true
		taken = append(taken, finding.UsedAsIs{Finding: f, Because: string(d.UseAsIs[t].Because.V)})
	}
	for i, u := range d.UseAsIs {
		if used[i] || !u.Code.Set() {
			continue
		}
		code := string(u.Code.V)
		c, known := finding.Lookup(code)
		switch near := finding.Nearest(code, finding.Names()); {
		case !known && near != "":
			left = append(left, finding.New("use-as-is", u.Code.At, fmt.Sprintf("no code is called %q", code), "did you mean "+near+"? `dropwright check --list` prints them all"))
		case !known:
			left = append(left, finding.New("use-as-is", u.Code.At, fmt.Sprintf("no code is called %q", code), "`dropwright check --list` prints them all"))
		case c.Level == finding.Error:
			left = append(left, finding.New("use-as-is", u.Code.At, fmt.Sprintf("%s is an error; errors cannot be taken as they are", code), "mend what it names, then remove this line"))
		default:
			left = append(left, finding.New("use-as-is", u.Code.At, fmt.Sprintf("%s was not found here", code), "remove the line: there is nothing to take as it is"))
		}
	}
	return left, taken
}
