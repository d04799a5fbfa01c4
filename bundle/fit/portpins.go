package fit

import (
	"regexp"
	"strings"

	"dropwright/bundle/facts"
)

// The forms in which firmware names a number: a C macro; a C, C++ or Go constant; an assignment as in Python.
// The value is a plain number, a quoted text, or a word such as GPIO17.
var pinForms = []*regexp.Regexp{
	regexp.MustCompile(`^\s*#\s*define\s+([A-Za-z_]\w*)\s+\(?\s*("[^"]*"|\w+)\s*\)?\s*(?://.*|/\*.*)?$`),
	regexp.MustCompile(`^\s*(?:(?:static|inline|export|public|private|final)\s+)*(?:const|constexpr)\s+(?:[A-Za-z_][\w:]*\s+)*([A-Za-z_]\w*)\s*(?:=|\{)\s*("[^"]*"|'[^']*'|\w+)\s*\}?\s*;?\s*(?://.*)?$`),
	regexp.MustCompile(`^\s*([A-Za-z_]\w*)\s*=\s*("[^"]*"|'[^']*'|\w+)\s*;?\s*(?:#.*|//.*)?$`),
}

// mostConstants bounds what is taken from one file; boards have a few dozen pins.
const mostConstants = 500

// PinConstants reads the constants of a firmware file, line by line, without running or resolving anything: a
// constant that is worked out from others is left out. Lines count from 1. Which of them are pins is for the
// judge to say.
func PinConstants(text string) []facts.PinConstant {
	var out []facts.PinConstant
	for i, line := range strings.Split(text, "\n") {
		if len(line) > 400 || len(out) >= mostConstants {
			continue
		}
		line = strings.TrimRight(line, "\r")
		for _, form := range pinForms {
			if m := form.FindStringSubmatch(line); m != nil {
				out = append(out, facts.PinConstant{Line: i + 1, Name: m[1], Value: strings.Trim(m[2], `"'`)})
				break
			}
		}
	}
	return out
}
