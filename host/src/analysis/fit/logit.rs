//! Penalised cumulative-logit threshold with profile-likelihood interval.
