//! Which of two forms the data prefer (AICc).
