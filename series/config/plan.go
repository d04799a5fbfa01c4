package config

import (
	"fmt"

	"dropwright/bundle/finding"
)

// What is planned for a design where series.yaml says nothing. Assumed, no source: two test prints a part, one
// build to photograph, a day to pack, five days for a parcel; three days to two weeks of work, a working week as a rule.
const (
	PlannedTrials   = 2
	PlannedBuilds   = 1
	PlannedBuffer   = Days(1)
	PlannedDelivery = Days(5)
)

// PlannedDays are the least, the likeliest and the most days that a design takes.
var PlannedDays = [3]float64{3, 5, 12}

// Bounds that keep out slips of the keyboard: no source.
const (
	mostTrials = 50
	mostBuilds = 1000
	mostBuffer = 60
	mostDays   = 365
)

// judge checks the ranges of the plan.
func (p Plan) judge() []finding.Finding {
	var out []finding.Finding
	add := func(at finding.Place, text, hint string) {
		out = append(out, finding.New("value-wrong", at, text, hint))
	}
	if p.Trials.Set() && (p.Trials.V < 0 || p.Trials.V > mostTrials) {
		add(p.Trials.At, fmt.Sprintf("trials: expected 0 to %d test prints of a part, found %d", mostTrials, p.Trials.V), "write for example trials: 2")
	}
	if p.Builds.Set() && (p.Builds.V < 0 || p.Builds.V > mostBuilds) {
		add(p.Builds.At, fmt.Sprintf("builds: expected 0 to %d builds of a variant, found %d", mostBuilds, p.Builds.V), "write for example builds: 1")
	}
	if p.Buffer.Set() && p.Buffer.V > mostBuffer {
		add(p.Buffer.At, fmt.Sprintf("buffer: expected up to %d days, found %s", mostBuffer, p.Buffer.V), "write for example buffer: 2 days")
	}
	if p.Delivery.Set() && p.Delivery.V > mostBuffer {
		add(p.Delivery.At, fmt.Sprintf("delivery: expected up to %d days, found %s", mostBuffer, p.Delivery.V), "write for example delivery: 5 days")
	}
	if p.Days == nil {
		return out
	}
	if len(p.Days) != 3 {
		add(p.At, fmt.Sprintf("days_per_design: expected three numbers of days, least, likeliest and most, found %d", len(p.Days)), "write for example days_per_design: [3, 5, 12]")
		return out
	}
	for i, d := range p.Days {
		switch {
		case d.V <= 0 || d.V > mostDays:
			add(d.At, fmt.Sprintf("days_per_design: expected more than 0 and up to %d days, found %v", mostDays, float64(d.V)), "count days of the calendar without leave")
			return out
		case i > 0 && d.V < p.Days[i-1].V:
			add(d.At, fmt.Sprintf("days_per_design: %v is less than %v before it", float64(d.V), float64(p.Days[i-1].V)), "write the least, the likeliest, then the most: [3, 5, 12]")
			return out
		}
	}
	return out
}

// TrialsPlanned is how many test prints each part gets until it is accepted.
func (p Plan) TrialsPlanned() int {
	if p.Trials.Set() {
		return int(p.Trials.V)
	}
	return PlannedTrials
}

// BuildsPlanned is how many finished builds of each variant the maker makes.
func (p Plan) BuildsPlanned() int {
	if p.Builds.Set() {
		return int(p.Builds.V)
	}
	return PlannedBuilds
}

// BufferDays is how many days before its early drop a design is to be finished.
func (p Plan) BufferDays() int {
	if p.Buffer.Set() {
		return int(p.Buffer.V)
	}
	return int(PlannedBuffer)
}

// DeliveryDays is how many days before it is needed a thing must be ordered.
func (p Plan) DeliveryDays() int {
	if p.Delivery.Set() {
		return int(p.Delivery.V)
	}
	return int(PlannedDelivery)
}

// DaysPlanned are the least, likeliest and most days that a design takes.
func (p Plan) DaysPlanned() [3]float64 {
	if len(p.Days) != 3 {
		return PlannedDays
	}
	return [3]float64{float64(p.Days[0].V), float64(p.Days[1].V), float64(p.Days[2].V)}
}
