"""Who practises what, when, at which bench, on which head and under whose eye: a problem in, a plan out."""
