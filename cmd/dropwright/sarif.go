package main

import (
	"net/url"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"dropwright/bundle/finding"
)

// The part of SARIF 2.1.0 (OASIS standard, sections in comments) that check fills.
type (
	sarifLog struct {
		Schema  string     `json:"$schema"`
		Version string     `json:"version"`
		Runs    []sarifRun `json:"runs"`
	}
	sarifRun struct { // 3.14
		Tool        sarifTool         `json:"tool"`
		Invocations []sarifInvocation `json:"invocations"`
		ColumnKind  string            `json:"columnKind"`
		Results     []sarifResult     `json:"results"`
	}
	sarifTool struct {
		Driver sarifDriver `json:"driver"`
	}
	sarifDriver struct { // 3.19
		Name  string      `json:"name"`
		Rules []sarifRule `json:"rules"`
	}
	sarifRule struct { // 3.49
		ID            string       `json:"id"`
		Short         sarifMessage `json:"shortDescription"`
		Full          sarifMessage `json:"fullDescription"`
		Configuration sarifConfig  `json:"defaultConfiguration"`
	}
	sarifConfig struct {
		Level finding.Level `json:"level"`
	}
	sarifMessage struct {
		Text string `json:"text"`
	}
	sarifInvocation struct { // 3.20
		Successful    bool                `json:"executionSuccessful"`
		Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
	}
	sarifNotification struct { // 3.58
		Level     string          `json:"level"`
		Message   sarifMessage    `json:"message"`
		Locations []sarifLocation `json:"locations,omitempty"`
	}
	sarifResult struct { // 3.27
		Rule         string             `json:"ruleId"`
		Index        int                `json:"ruleIndex"`
		Level        finding.Level      `json:"level"`
		Message      sarifMessage       `json:"message"`
		Locations    []sarifLocation    `json:"locations"`
		Suppressions []sarifSuppression `json:"suppressions,omitempty"`
		Properties   map[string]string  `json:"properties,omitempty"`
	}
	sarifLocation struct {
		Physical sarifPhysical `json:"physicalLocation"`
	}
	sarifPhysical struct { // 3.29
		Artifact sarifArtifact `json:"artifactLocation"`
		Region   *sarifRegion  `json:"region,omitempty"`
	}
	sarifArtifact struct {
		URI string `json:"uri"`
	}
	sarifRegion struct { // 3.30
		StartLine   int `json:"startLine"`
		StartColumn int `json:"startColumn,omitempty"`
		EndColumn   int `json:"endColumn,omitempty"`
	}
	sarifSuppression struct { // 3.35
		Kind          string `json:"kind"`
		Justification string `json:"justification"`
	}
)

// sarifSchema is where the standard publishes the schema of the format (SARIF 2.1.0, section 3.13.3).
const sarifSchema = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

// sarif puts what check has to say into one SARIF log: findings as results, what was taken as it is as
// suppressed results, what was not checked as notifications of the run.
func sarif(all []checked, t texts) sarifLog {
	run := sarifRun{Tool: sarifTool{sarifDriver{Name: "dropwright", Rules: []sarifRule{}}}, ColumnKind: "unicodeCodePoints", Results: []sarifResult{}}
	index := map[string]int{}
	for i, c := range finding.Codes() {
		short, _, _ := strings.Cut(c.Why, ". ")
		run.Tool.Driver.Rules = append(run.Tool.Driver.Rules, sarifRule{c.Name, sarifMessage{strings.TrimSuffix(short, ".") + "."}, sarifMessage{c.Why}, sarifConfig{c.Level}})
		index[c.Name] = i
	}
	add := func(f jsonFinding, at finding.Place, s []sarifSuppression) {
		text := f.Text
		if f.Variant != "" {
			text = f.Variant + ": " + text
		}
		r := sarifResult{Rule: f.Code, Index: index[f.Code], Level: f.Level, Message: sarifMessage{text + ". " + f.Hint}, Locations: []sarifLocation{sarifPlace(at, t)}, Suppressions: s}
		if f.Variant != "" {
			r.Properties = map[string]string{"variant": f.Variant}
		}
		run.Results = append(run.Results, r)
	}
	ran := sarifInvocation{Successful: true}
	for _, c := range all {
		for i, f := range c.Findings {
			add(f, c.list[i].At, nil)
		}
		for _, u := range c.UsedAsIs {
			add(u.jsonFinding, finding.Place{File: u.File, Line: u.Line, Column: u.Column}, []sarifSuppression{{"inSource", u.Because}})
		}
		for _, n := range c.NotChecked {
			text := "not checked: " + n.Text
			if n.Variant != "" {
				text = n.Variant + ": " + text
			}
			ran.Notifications = append(ran.Notifications, sarifNotification{"note", sarifMessage{text}, []sarifLocation{sarifPlace(finding.Place{File: n.File, Line: n.Line, Column: n.Column}, t)}})
		}
	}
	run.Invocations = []sarifInvocation{ran}
	return sarifLog{sarifSchema, "2.1.0", []sarifRun{run}}
}

// sarifPlace turns a place into a location: the path as a relative reference, bytes of the line into characters.
func sarifPlace(at finding.Place, t texts) sarifLocation {
	segments := strings.Split(filepath.ToSlash(at.File), "/")
	for i := range segments {
		segments[i] = url.PathEscape(segments[i])
	}
	out := sarifLocation{sarifPhysical{Artifact: sarifArtifact{strings.Join(segments, "/")}}}
	if at.Line == 0 {
		return out
	}
	region := &sarifRegion{StartLine: at.Line, StartColumn: at.Column}
	if line := t[at.File].Line(at.Line); at.Column > 0 && at.Column <= len(line)+1 {
		region.StartColumn = 1 + utf8.RuneCountInString(line[:at.Column-1])
		if end := min(at.Column-1+at.Width, len(line)); at.Width > 0 {
			region.EndColumn = 1 + utf8.RuneCountInString(line[:end])
		}
	}
	out.Physical.Region = region
	return out
}

// checkSARIF prints the log.
func (a *app) checkSARIF(all []checked, t texts) error {
	if err := a.asJSON(sarif(all, t)); err != nil {
		return err
	}
	return nil
}
