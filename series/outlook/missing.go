package outlook

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/unit"
	"dropwright/series/schedule"
)

// missing lists what stands between a design and its next drops, the first thing first, each with the command
// that brings it forward.
func missing(w schedule.Week, k Known, begun bool, out Week) []Missing {
	if w.State == schedule.PublicOut || w.State == schedule.Withdrawn {
		return reportsOf(out)
	}
	if !begun {
		return []Missing{{"a folder", "dropwright new " + w.Design}}
	}
	if k.Design == nil {
		return []Missing{{"a manifest that can be read", "dropwright check " + w.Design}}
	}
	var list []Missing
	if !out.Out {
		list = append(list, unfinished(w.Design, k)...)
		if w.Week != 0 {
			list = append(list, Missing{"the early drop", "dropwright release " + w.Design + " early"})
		}
		return append(list, reportsOf(out)...)
	}
	if w.State == schedule.Handed {
		list = append(list, Missing{"the confirmation that it was posted", "dropwright release confirm " + w.Design + " early --at TIME --link URL"})
	}
	list = append(list, Missing{"the public drop", "dropwright release " + w.Design + " public"})
	return append(list, reportsOf(out)...)
}

func reportsOf(w Week) []Missing {
	if w.Reports == 0 {
		return nil
	}
	return []Missing{{unit.Count(w.Reports, "answer") + " to open reports", "dropwright report list " + w.Design}}
}

// unfinished is what check and the trials still ask for.
func unfinished(name string, k Known) []Missing {
	var list []Missing
	check := "dropwright check " + name
	if !k.Standing.Complete {
		var files []string
		if k.Facts != nil {
			for _, f := range k.Facts.Files {
				if f.Named && f.Problem != "" {
					files = append(files, f.Path)
				}
			}
		}
		switch what := some(files); {
		case what == "":
			list = append(list, Missing{"files that its manifest names", check})
		default:
			list = append(list, Missing{what, check})
		}
	}
	if k.Standing.Judged && k.Standing.Errors > 0 {
		list = append(list, Missing{unit.Count(k.Standing.Errors, "error") + " to mend", check})
	}
	if k.Standing.Complete && !k.Standing.Accepted {
		what := "accepted trials"
		if parts := k.untried(); len(parts) > 0 {
			what += " of " + some(parts)
		}
		list = append(list, Missing{what, "dropwright trial add " + name + "/PART 41g 2h35 ok"})
	}
	return list
}

// untried are the parts without an accepted trial, each once.
func (k Known) untried() []string {
	var out []string
	for _, p := range k.Untried {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

// some names the first two of a list and counts the others.
func some(list []string) string {
	switch n := len(list); {
	case n > 3:
		return strings.Join(list[:2], ", ") + " and " + strconv.Itoa(n-2) + " more"
	case n > 1:
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return strings.Join(list, "")
}

// number prints days with at most one decimal.
func number(x float64) string {
	return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64)
}
