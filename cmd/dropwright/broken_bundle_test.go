package main

import "maps"

func init() { maps.Copy(broken, brokenBundle) }

// brokenBundle is the part of the table about what a bundle would hold.
var brokenBundle = map[string][]string{
	"bundle-name":    {"bundle-name 10:40"},
	"report-private": {"report-private 10:17"},
	"list-differs":   {"list-differs 4:1", "list-differs 5:1"},
}
