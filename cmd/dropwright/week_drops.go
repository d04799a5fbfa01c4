package main

import (
	"fmt"
	"strings"

	"dropwright/series/schedule"
)

// drops is what the ledger adds to the week's list.
type drops struct {
	lines []string          // what is due, laid out or in the way, each with the command to type
	next  map[string]string // of designs that have gone out: what comes next
}

// dropsNow reads the plan for the week's list.
func (a *app) dropsNow(s *season) (*drops, error) {
	p, err := a.plan(s, nil)
	if err != nil {
		return nil, err
	}
	out := &drops{next: map[string]string{}}
	for _, rehearsal := range []bool{false, true} {
		flag := ""
		if rehearsal && a.nowFlag != "" {
			flag = " --now " + a.nowFlag
		}
		for _, x := range p.all[rehearsal] {
			what := strings.TrimSpace(x.Design + " " + x.Revision)
			switch x.State {
			case schedule.Due:
				out.lines = append(out.lines, fmt.Sprintf("due since %s: %s to %s: dropwright release %s %s%s", schedule.Day(x.Due, p.cal.Zone()), what, x.Channel, x.Design, x.Audience, flag))
			case schedule.HandedOver:
				out.lines = append(out.lines, fmt.Sprintf("laid out, not confirmed: %s for %s: dropwright release confirm %s %s --at TIME --link URL", what, x.Channel, x.Design, x.Audience))
			case schedule.Blocked:
				out.lines = append(out.lines, fmt.Sprintf("in the way: %s to %s: %s", what, x.Channel, strings.Join(x.Why, "; ")))
			case schedule.Done:
				if out.next[x.Design] == "" {
					out.next[x.Design] = what + " is out to " + x.Channel
				} else {
					out.next[x.Design] += " and " + x.Channel
				}
			}
		}
	}
	return out, nil
}
