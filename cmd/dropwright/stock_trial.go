package main

import (
	"fmt"
	"strings"

	"dropwright/bundle/trial"
	"dropwright/bundle/unit"
	"dropwright/series/stock"
)

// bookTrial logs a print and takes its filament off the shelf, where one is kept: what it weighed, or, for one
// that came out and was not weighed, what the model says. It returns what is to be said of it.
func (a *app) bookTrial(s *season, r *trial.Record, log func(trial.Record) error) (said []string, err error) {
	grams, weighed := r.Grams, true
	if grams == 0 && r.Outcome == trial.OK && r.Model != nil {
		grams, weighed = r.Model.Grams, false
	}
	shelf, err := a.shelf(s)
	if err != nil {
		return nil, err
	}
	if shelf == nil || grams == 0 || r.Filament == "" {
		return nil, log(*r)
	}
	err = a.changeStock(s, false, func(shelf *stock.Shelf) error {
		done, missing := shelf.Take(r.Filament, round2(grams))
		var labels []string
		for _, d := range done {
			labels = append(labels, d[1].Label)
			r.Booked += d[0].Amount - d[1].Amount
			what := ""
			if !weighed {
				what = ", by the model: it was not weighed"
			}
			said = append(said, fmt.Sprintf("taken off %s: %s left, before %s%s", d[1].Label, unit.Mass(d[1].Amount), unit.Mass(d[0].Amount), what))
		}
		r.Spool, r.Booked = strings.Join(labels, ","), round2(r.Booked)
		if missing > 0 {
			said = append(said, fmt.Sprintf("the shelf had %s of %s less than that; dropwright stock weigh sets a spool right", unit.Mass(missing), r.Filament))
		}
		return log(*r) // the log is the record; the shelf follows it
	})
	return said, err
}

// unbookTrial puts back what a print that was taken out of the log had taken.
func (a *app) unbookTrial(s *season, r trial.Record) error {
	if r.Booked == 0 {
		return nil
	}
	return a.changeStock(s, true, func(shelf *stock.Shelf) error {
		label, _, _ := strings.Cut(r.Spool, ",")
		l, ok := shelf.Give(label, r.Booked)
		if !ok {
			a.ui.say("note: the spool %s is not on the shelf any more; its %s were not put back", label, unit.Mass(r.Booked))
			return nil
		}
		fmt.Fprintf(a.stdout, "put back on %s: %s, now %s\n", l.Label, unit.Mass(r.Booked), unit.Mass(l.Amount))
		return nil
	})
}
