// Package config is the typed model of series.yaml: the calendar, the printers, the filaments, the channels.
// It reads text, not files, and knows no clock: package calendar turns the dates into instants.
package config
