// Package tracing is the one room that knows OpenTelemetry: the way of a call through gateway, service and
// adjuster as one trace, sent by OTLP over HTTP to a collector that whoever runs the service names. The nil
// Tracing traces nothing and costs nothing.
package tracing
