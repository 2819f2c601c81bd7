export function MailQueue() {
  return null;
}
