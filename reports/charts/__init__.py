"""Charts of an appraisal: each takes it and returns an Altair chart; none computes a metric."""
