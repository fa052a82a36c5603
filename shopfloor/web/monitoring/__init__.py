"""What whoever runs the server can watch: a number for each request, a line in the log, figures at /metrics."""
